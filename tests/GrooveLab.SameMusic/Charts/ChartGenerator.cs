using System.Globalization;
using System.Text;

namespace GrooveLab.SameMusic.Charts;

/// <summary>Creates random charts as text in format 1: all keys of the format, in combinations that no person would write. Independent of
/// the program under test. The same number gives the same chart.</summary>
internal sealed class ChartGenerator
{
    private const int MostBars = 40;

    private static readonly string[] Keys =
        ["D dorian", "E minor", "G", "Bb major", "F# minor", "A mixolydian", "C lydian", "E phrygian", "Ab major", "B locrian", "C# aeolian", "F ionian"];

    private static readonly string[] Roots = ["C", "D", "E", "F", "G", "A", "B", "Bb", "F#", "Eb"];
    private static readonly string[] PlainKinds = ["", "", "", "m", "m", "m", "7", "m7", "maj7", "sus4", "6", "5", "dim", "add9", "9"];
    private static readonly string[] AlteredKinds = ["7b9", "7#11", "7(b9,#11)", "m7b5", "aug", "7alt", "m(maj7)", "dim7"];
    private static readonly string[] Names = ["verse", "refrain", "bridge", "turn"];

    // The instruments that suit a role, with a register for each.
    private static readonly Dictionary<string, (string Instrument, string Register)[]> Players = new(StringComparer.Ordinal)
    {
        ["pulse"] = [("bouzouki", "A2-A4"), ("guitar", "A2-E4"), ("mandolin", "G3-E5"), ("banjo", "G3-D5"), ("concertina", "C4-C6")],
        ["roll"] = [("hammered dulcimer", "D3-D5"), ("banjo", "G3-D5"), ("mandolin", "A3-E5"), ("bouzouki", "D3-A4"), ("guitar", "C3-C5")],
        ["bass"] = [("plucked bass", "E1-E3"), ("bass guitar", "E1-G2"), ("cello", "C2-G3"), ("guitar", "E2-E3")],
        ["sustain"] = [("cello", "C3-G4"), ("viola", "C3-E5"), ("fiddle", "G3-E5"), ("concertina", "G3-G5")],
        ["tune"] = [("concertina", "G3-C6"), ("fiddle", "G3-B5"), ("mandolin", "G3-B5"), ("viola", "G3-C6"), ("whistle", "D5-D7"), ("cello", "C2-A4")],
    };

    private readonly Chance _chance;
    private readonly int _number;
    private readonly HashSet<ChartFeature> _features = [];
    private readonly List<(string Name, string Role)> _band = [];
    private readonly RandomMeter[] _meters;
    private bool _isHigh;

    private ChartGenerator(int number, ulong seed)
    {
        _number = number;
        _chance = new Chance((seed * 1_000_003) + (ulong)number);
        var first = RandomMeter.All[number % RandomMeter.All.Count];
        _meters = _chance.Percent(20)
            ? [first, _chance.Pick([.. RandomMeter.All.Where(other => other.Unit == first.Unit && other != first).DefaultIfEmpty(first)])]
            : [first];
    }

    /// <summary>Creates a chart.</summary>
    /// <param name="number">Its number; consecutive charts start in different meters.</param>
    /// <param name="seed">The random seed.</param>
    public static RandomChart Draw(int number, ulong seed)
    {
        var generator = new ChartGenerator(number, seed);
        var text = generator.Write();
        return new RandomChart(number, text, generator._features);
    }

    private static string Text(double number) => number.ToString("0.##", CultureInfo.InvariantCulture);

    private bool With(ChartFeature feature, int percent)
    {
        var drawn = _chance.Percent(percent);
        _features.UnionWith(drawn ? [feature] : []);
        return drawn;
    }

    private void Has(ChartFeature feature) => _features.Add(feature);

    private string Write()
    {
        var bars = 0;
        var names = new List<string>();
        var sections = new StringBuilder();
        var named = _chance.Percent(85);
        var band = Band();
        var count = _chance.Whole(1, 4);
        for (var i = 0; i < count && bars < MostBars / 2; i++)
        {
            var name = named ? Names[i] : ((char)('A' + i)).ToString();
            names.Add(name);
            sections.Append("\n[[section]]\n").Append(named ? $"name = \"{name}\"\n" : string.Empty);
            bars += Section(sections, isFirst: i == 0);
        }

        return Top(names, bars) + band + sections;
    }

    // ---- the top ----

    private string Top(List<string> names, int bars)
    {
        var text = new StringBuilder($"# Chart {_number}, drawn at random.\nformat = 1\ntitle = \"Chart {_number}\"\n");
        void Line(string line) => text.Append(line).Append('\n');
        Line($"key = \"{_chance.Pick(Keys)}\"");
        Line($"tempo = \"{Tempo(_meters[0], Quick(_meters[0]), mayBeOfGroups: true)}\"");
        Line(_meters.Length == 1 ? $"meter = \"{_meters[0].Text}\"" : $"meter = [\"{_meters[0].Text}\", \"{_meters[1].Text}\"]");
        _features.UnionWith(_meters.Length > 1 ? [ChartFeature.AlternatingMeters] : []);
        foreach (var meter in _meters)
        {
            Has(meter);
        }

        if (With(ChartFeature.LearnerTempo, 15))
        {
            Line($"learner-tempo = \"{Tempo(_meters[0], _meters[0].Slowest, mayBeOfGroups: false)}\"");
        }

        if (With(ChartFeature.BarGroups, 30))
        {
            Line("bar-groups = " + _chance.Pick("2", "3", "[4, 4, 2]", "\"3+2\""));
        }

        if (With(ChartFeature.Feel, 35))
        {
            Line($"feel = \"{_chance.Pick("unit", "group", "bar", "bar-group")}\"");
        }

        if (With(ChartFeature.Counted, 20))
        {
            Line($"counted = \"{_chance.Pick("units", "groups")}\"");
        }

        if (With(ChartFeature.Swing, _meters[0].Unit is 4 or 8 ? 40 : 5))
        {
            Line("swing = " + _chance.Pick("\"2:1\"", "\"3:2\"", "1.5", "\"5:3\""));
        }

        if (With(ChartFeature.Drone, 12))
        {
            Line($"drone = {_chance.Whole(1, 4)}");
        }

        if (With(ChartFeature.WithoutLooseness, 12))
        {
            Line("looseness = 0");
        }
        else if (With(ChartFeature.MoreLooseness, 15))
        {
            Line("looseness = " + _chance.Pick("1.5", "2"));
        }

        Line($"seed = {_chance.Whole(1, 1_000_000)}");
        if (With(ChartFeature.Form, 50))
        {
            // Every section is played, wherever it is.
            var from = _chance.Whole(0, names.Count - 1);
            var order = names.Skip(from).Concat(names.Take(from)).Concat(_chance.Percent(50) ? [_chance.Pick(names)] : []);
            var steps = order.Select(name => $"\"{name}{_chance.Pick("", "", " x2")}\"").ToList();
            Line($"form = [{string.Join(", ", steps)}]");
        }

        if (bars < 12 && With(ChartFeature.SeveralTimesThrough, 40))
        {
            Line($"times = {_chance.Whole(2, 3)}");
        }

        if (With(ChartFeature.Tag, 20))
        {
            Line($"tag = [\"{_chance.Pick(names)}{_chance.Pick("", " x2")}\"]");
        }

        if (With(ChartFeature.WithoutEnding, 12))
        {
            Line("ending = false");
        }
        else if (With(ChartFeature.EndingOnAChord, 15))
        {
            Line($"ending = \"{_chance.Pick(Roots)}{_chance.Pick("", "m", "6")}\"");
        }

        return text.ToString();
    }

    private void Has(RandomMeter meter)
    {
        _features.UnionWith(meter.IsUndivided ? [ChartFeature.UndividedMeter] : []);
        _features.UnionWith(meter.IsNested ? [ChartFeature.NestedGrouping] : []);
        _features.UnionWith(meter.Unit is 10 or 12 ? [ChartFeature.UnitNotAPowerOfTwo] : []);
    }

    private int Quick(RandomMeter meter) => _chance.Whole(meter.Slowest, meter.Quickest);

    // A tempo in units per minute, written with different beats.
    private string Tempo(RandomMeter meter, int perMinute, bool mayBeOfGroups)
    {
        var kind = _chance.Whole(1, 100);
        if (kind <= 20)
        {
            Has(ChartFeature.TempoOfABar);
            return $"bar = {Text(Math.Round(2.0 * perMinute / meter.Units) / 2)}";
        }

        if (kind <= 27 && mayBeOfGroups)
        {
            // Four bars are a group by default; another group size only changes the tempo.
            Has(ChartFeature.TempoOfABarGroup);
            return $"bar group = {Text(Math.Round(perMinute / 4.0 / meter.Units * 2) / 2)}";
        }

        if (kind <= 40 && meter.Unit == 8)
        {
            Has(ChartFeature.TempoOfADottedNote);
            return $"dotted quarter = {perMinute / 3}";
        }

        if (kind <= 50 || meter.UnitName is null)
        {
            Has(ChartFeature.TempoOfAUnit);
            return _chance.Percent(50) ? $"unit = {perMinute}" : $"1/{meter.Unit} = {perMinute}";
        }

        return $"{meter.UnitName} = {perMinute}";
    }

    // ---- the band ----

    private string Band()
    {
        if (_chance.Percent(25))
        {
            Has(ChartFeature.HouseBand);
            return string.Empty;
        }

        Has(ChartFeature.OwnBand);
        var text = new StringBuilder();
        foreach (var role in (string[])["pulse", "roll", "bass", "sustain", "tune"])
        {
            var count = _chance.Pick(0, 1, 1, 1, 1, 2, 2, 3);
            _features.UnionWith(count > 1 ? [ChartFeature.SeveralPartsOfARole] : []);
            for (var i = 0; i < count; i++)
            {
                Part(text, role, shares: count == 2 && role == "pulse" ? (i == 0 ? "starts" : "between") : null);
            }
        }

        if (_band.Count == 0 || _chance.Percent(80))
        {
            text.Append("\n[[part]]\nrole = \"count\"\n");
            if (With(ChartFeature.CountOn, 50))
            {
                text.Append($"on = \"{_chance.Pick("felt", "units", "groups", "bars", "nothing")}\"\n");
            }
        }

        return text.ToString();
    }

    private void Part(StringBuilder text, string role, string? shares)
    {
        void Line(string line) => text.Append(line).Append('\n');
        text.Append("\n[[part]]\n");
        var isNamed = _chance.Percent(35);
        var name = $"{role} {_band.Count + 1}";
        if (isNamed)
        {
            Line($"name = \"{name}\"");
        }

        Line($"role = \"{role}\"");
        var (instrument, register) = _chance.Pick(Players[role]);
        var octaves = instrument switch
        {
            "whistle" => 1,
            "cello" when role == "tune" => -1,
            _ => 0,
        };
        if (role is "pulse" or "roll" && With(ChartFeature.OwnInstrument, 10))
        {
            (instrument, register) = ("octave mandolin", "D3-A4");
        }
        else if (role is "pulse" or "roll" or "sustain" && With(ChartFeature.UnusualInstrument, 5))
        {
            (instrument, register) = role == "sustain" ? ("banjo", "G3-D5") : ("viola", "C3-C5");
        }

        Line($"instrument = \"{instrument}\"");
        if (With(ChartFeature.Register, 25))
        {
            Line($"register = \"{register}\"");
        }

        if (With(ChartFeature.LevelAndPan, 40))
        {
            Line($"level = {_chance.Whole(-12, 2)}");
            Line($"pan = {_chance.Whole(-100, 100)}");
        }

        Settings(Line, role, shares, octaves);
        if (isNamed)
        {
            _band.Add((name, role));
        }
        else
        {
            _band.Add((role, role));
        }
    }

    private void Settings(Action<string> line, string role, string? shares, int octaves)
    {
        switch (role)
        {
            case "pulse":
                if (shares is not null && With(ChartFeature.SharedPulse, 60))
                {
                    line($"share = \"{shares}\"");
                }

                Setting(line, ChartFeature.Strokes, 40, () => $"strokes = \"{_chance.Pick("heavy", "down")}\"");
                Setting(line, ChartFeature.UndampedPulse, 20, () => "damped = false");
                Setting(line, ChartFeature.PulseVoices, 30, () => $"voices = {_chance.Pick(1, 2, 4)}");
                Setting(line, ChartFeature.Strum, 30, () => $"strum-ms = {_chance.Whole(0, 14)}");
                break;
            case "roll":
                if (With(ChartFeature.CrossingFree, 25))
                {
                    line("crossing = \"free\"");
                }
                else
                {
                    Setting(line, ChartFeature.CrossingLand, 30, () => "crossing = \"land\"");
                }

                Setting(line, ChartFeature.HandLimit, 25, () => $"hand-limit-ms = {_chance.Whole(60, 260)}");
                break;
            case "bass":
                Setting(line, ChartFeature.BassApproaches, 40, () => "approaches = " + _chance.Pick("0", "0.1", "0.3"));
                Setting(line, ChartFeature.BassRing, 40, () => "ring = " + _chance.Pick("0.3", "0.8", "1"));
                break;
            case "sustain":
                Setting(line, ChartFeature.OneSustainVoice, 40, () => "voices = 1");
                Setting(line, ChartFeature.LaidBackSustain, 40, () => $"laid-back = \"{_chance.Pick("half", "unit")}\"");
                break;
            default:
                if (octaves != 0)
                {
                    Has(ChartFeature.TuneMovedByOctaves);
                    line($"octaves = {octaves}");
                    _isHigh |= octaves > 0;
                }

                Setting(line, ChartFeature.Consonants, 50, () => "consonants = true");
                Setting(line, ChartFeature.LaidBackTune, 50, () => $"laid-back = \"{_chance.Pick("half", "unit")}\"");
                break;
        }
    }

    private void Setting(Action<string> line, ChartFeature feature, int percent, Func<string> text)
    {
        if (With(feature, percent))
        {
            line(text());
        }
    }

    // ---- the sections ----

    private int Section(StringBuilder text, bool isFirst)
    {
        void Line(string line) => text.Append(line).Append('\n');
        var meters = _meters;
        if (!isFirst && _chance.Percent(35))
        {
            Has(ChartFeature.SectionInAnotherMeter);
            meters = [_chance.Pick(RandomMeter.All)];
            Has(meters[0]);
            Line($"meter = \"{meters[0].Text}\"");
        }

        var count = _chance.Whole(2, 8);
        TempoOf(Line, meters[0], count, isFirst);
        if (With(ChartFeature.FeelOfASection, 20))
        {
            Line($"feel = \"{_chance.Pick("unit", "group", "bar", "bar-group")}\"");
        }

        if (_chance.Percent(8))
        {
            Has(ChartFeature.BarGroups);
            Line("bar-groups = " + _chance.Pick("2", "3", "[2, 3]"));
        }

        if (With(ChartFeature.SectionInAnotherKey, 15))
        {
            Line($"key = \"{_chance.Pick(Keys)}\"");
        }

        Stops(Line, count);
        Playing(Line);
        if (With(ChartFeature.RepeatedSection, 12))
        {
            Line("repeat = 2");
        }

        var goesRound = With(ChartFeature.ChordsRepeatedToFillASection, 10);
        if (goesRound)
        {
            Line($"bars = {count + _chance.Whole(1, 3)}");
        }

        var bars = Chords(text, meters, count, inserts: !goesRound);
        if (!goesRound && _chance.Percent(65))
        {
            text.Append(RandomTune.Write(_chance, _features, Scale(), bars));
        }

        return count;
    }

    private void TempoOf(Action<string> line, RandomMeter meter, int bars, bool isFirst)
    {
        var kind = _chance.Whole(1, 100);
        if (kind <= 12)
        {
            Has(ChartFeature.TempoChange);
            line($"tempo = \"{Tempo(meter, Quick(meter), mayBeOfGroups: false)}\"");
        }
        else if (kind <= 24)
        {
            Has(ChartFeature.Ramp);
            line($"tempo = \"to {Tempo(meter, Quick(meter), mayBeOfGroups: false)}\"");
        }
        else if (kind <= 36)
        {
            Has(ChartFeature.RampOverSomeBars);
            line($"tempo = \"{meter.UnitName ?? "unit"} = {Quick(meter)} to {Quick(meter)} over {_chance.Whole(1, bars)} bars\"");
        }
        else if (!isFirst && kind <= 50)
        {
            Has(ChartFeature.Join);
            line($"join = \"{_chance.Pick("eighth = eighth", "quarter = dotted quarter", "dotted quarter = quarter", "sixteenth = sixteenth")}\"");
        }
        else if (!isFirst && kind <= 60)
        {
            Has(ChartFeature.JoinOfBars);
            line("join = \"bar = bar\"");
        }
    }

    private void Stops(Action<string> line, int bars)
    {
        if (With(ChartFeature.StopTime, 12))
        {
            line("stop-time = true");
        }

        if (With(ChartFeature.Break, 15))
        {
            line($"break = {_chance.Whole(1, Math.Min(2, bars))}");
        }

        if (With(ChartFeature.Hold, 12))
        {
            line($"hold = {_chance.Whole(1, 4)}");
        }

        if (With(ChartFeature.Vamp, 15))
        {
            line("vamp = true");
        }
    }

    private void Playing(Action<string> line)
    {
        var kind = _chance.Whole(1, 100);
        if (kind <= 6)
        {
            Has(ChartFeature.SectionWithoutTheBand);
            line("play = []");
        }
        else if (kind <= 22)
        {
            Has(ChartFeature.SectionForSomeParts);
            IReadOnlyList<string> names = _band.Count > 0 ? [.. _band.Select(part => part.Name)] : ["bouzouki", "cello", "bass", "roll", "tune"];
            line($"play = [\"{_chance.Pick(names)}\", \"{_chance.Pick(names)}\"]");
        }
    }

    private List<RandomMeter> Chords(StringBuilder text, RandomMeter[] meters, int count, bool inserts)
    {
        var bars = new List<RandomMeter>();
        text.Append("chords = \"\"\"\n");
        var turn = 0;
        for (var bar = 0; bar < count; bar++)
        {
            var isInserted = inserts && bar > 0 && With(ChartFeature.InsertedBar, 7);
            var meter = isInserted ? _chance.Pick(RandomMeter.Inserted) : meters[turn++ % meters.Length];
            var same = bar > 0 && bars[^1].Text == meter.Text && !isInserted;
            bars.Add(meter);
            text.Append("| ").Append(isInserted ? $"[{meter.Text}] " : string.Empty).Append(Chords(meter, same, bar > 0)).Append(' ');
            text.Append(bar % 4 == 3 || bar == count - 1 ? "|\n" : string.Empty);
        }

        text.Append("\"\"\"\n");
        return bars;
    }

    private string Chords(RandomMeter meter, bool mayRepeat, bool mayGoOn)
    {
        var kind = _chance.Whole(1, 100);
        if (kind <= 8 && mayRepeat)
        {
            Has(ChartFeature.RepeatedChordBar);
            return "%";
        }

        if (kind <= 35 && meter.Chords.Count > 0)
        {
            Has(ChartFeature.SeveralChordsInABar);
            return string.Join(' ', Enumerable.Range(0, _chance.Pick(meter.Chords)).Select(_ => Chord()));
        }

        if (kind <= 45)
        {
            Has(ChartFeature.ChordOnEveryUnit);
            var marks = Enumerable.Range(0, meter.Units).Select(unit => _chance.Percent(30) || (unit == 0 && !mayGoOn) ? Chord() : "/").ToList();
            _features.UnionWith(marks[0] == "/" ? [ChartFeature.ChordHeldOverABarLine] : []);
            return string.Join(' ', marks);
        }

        return Chord();
    }

    private string Chord()
    {
        if (With(ChartFeature.NoChord, 2))
        {
            return "N.C.";
        }

        var chord = _chance.Pick(Roots) + (With(ChartFeature.AlteredChord, 8) ? _chance.Pick(AlteredKinds) : _chance.Pick(PlainKinds));
        return With(ChartFeature.SlashChord, 8) ? $"{chord}/{_chance.Pick(Roots)}" : chord;
    }

    // Pitches that every tune instrument can reach, if necessary an octave away.
    private string[] Scale()
    {
        string[] low = ["G3", "A3", "Bb3", "C4"];
        string[] middle = ["D4", "E4", "F#4", "G4", "G#4", "A4", "Bb4", "C5", "C#5", "D5", "E5", "F5", "G5"];
        return _isHigh ? middle : [.. low, .. middle];
    }
}
