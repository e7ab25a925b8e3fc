using System.Globalization;
using System.Text;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Charts;

/// <summary>Writes a chart as text that reads back as an equal chart. Not for changing a user's file: <see cref="ChartDocument"/> does
/// that and keeps remarks and layout.</summary>
public static class ChartWriter
{
    private const int BarsInLine = 4;

    /// <summary>The chart as text.</summary>
    /// <remarks>Writes the nearest equivalent of what the format lacks: an inserted bar in the meter that applies there anyway becomes a
    /// normal bar.</remarks>
    /// <param name="chart">The chart.</param>
    /// <param name="catalogue">The instruments; null for the built-in ones.</param>
    /// <exception cref="ChartProblemException">A chord starts between two units, or notes extend beyond their section.</exception>
    public static string Write(Chart chart, InstrumentCatalogue? catalogue = null)
    {
        catalogue ??= InstrumentFile.BuiltIn;
        var sections = chart.Sections.Select(WithRound).ToList();
        var oneRound = sections.TrueForAll(section => section.Round.SequenceEqual(sections[0].Round)) ? sections[0].Round : null;
        var barGroups = chart.Sections.All(section => section.BarGroups == chart.Sections[0].BarGroups)
            ? chart.Sections[0].BarGroups
            : new BarGroups(4);
        var text = new StringBuilder();
        void Line(string key, string literal) => text.Append(CultureInfo.InvariantCulture, $"{key} = {literal}\n");

        var format = FormatOf(chart);
        Line("format", TomlLiteral.Number(format));
        if (!string.IsNullOrWhiteSpace(chart.Title))
        {
            Line("title", TomlLiteral.Text(chart.Title));
        }

        if (!string.IsNullOrWhiteSpace(chart.Trains))
        {
            Line("trains", TomlLiteral.Text(chart.Trains));
        }

        Line("key", TomlLiteral.Text(chart.Key.ToString()));
        Line("tempo", TomlLiteral.Text(TempoText.Write(chart.Tempo)));
        if (chart.LearnerTempo is { } learnerTempo)
        {
            Line("learner-tempo", TomlLiteral.Text(TempoText.Write(learnerTempo)));
        }

        if (oneRound is not null)
        {
            Line("meter", Meters(oneRound));
        }

        if (chart.Counted is { } counted)
        {
            Line("counted", TomlLiteral.Text(Word(counted)));
        }

        if (barGroups != new BarGroups(4))
        {
            Line("bar-groups", BarGroupsLiteral(barGroups));
        }

        if (chart.Feel is { } feel)
        {
            Line("feel", TomlLiteral.Text(feel.Name()));
        }

        if (chart.Swing != Rational.One)
        {
            Line("swing", TomlLiteral.Text(SwingText.Write(chart.Swing)));
        }

        if (chart.Looseness != 1)
        {
            Line("looseness", TomlLiteral.Number(chart.Looseness));
        }

        if (!chart.GroupRatio.Equals(GroupTiming.Even))
        {
            Line("group-ratio", TomlLiteral.Number(chart.GroupRatio));
        }

        if (!chart.IsArranged)
        {
            Line("arrangement", OrderKeys.Arranged(false));
        }

        Line("seed", Seed(chart.Seed));
        if (chart.DroneSeconds > 0)
        {
            Line("drone", TomlLiteral.Number(chart.DroneSeconds));
        }

        Line("form", TomlLiteral.List(chart.Form.Select(step => Step(chart.Sections[step.Section].Name, step, step.Times))));
        if (chart.Times != 1)
        {
            Line("times", TomlLiteral.Number(chart.Times));
        }

        if (chart.Tag.Count > 0)
        {
            Line("tag", TomlLiteral.List(chart.Tag.Select(step => Step(chart.Sections[step.Section].Name, step, step.Times))));
        }

        if (!chart.Ending || chart.EndingChord is not null)
        {
            Line("ending", chart.Ending ? TomlLiteral.Text(chart.EndingChord!.Text) : TomlLiteral.Flag(false));
        }

        if (chart.Recast is { } recast)
        {
            text.Append("\n[recast]\n");
            foreach (var (key, literal) in RecastKeys.Write(recast))
            {
                Line(key, literal);
            }
        }

        foreach (var part in chart.Parts)
        {
            text.Append("\n[[part]]\n");
            foreach (var (key, literal) in PartKeys(part, catalogue))
            {
                Line(key, literal);
            }
        }

        foreach (var (section, round) in sections)
        {
            text.Append("\n[[section]]\n");
            var said = (oneRound is null ? Meters(round) : null, section.BarGroups != barGroups ? BarGroupsLiteral(section.BarGroups) : null);
            foreach (var (key, literal) in SectionKeys(section, said, chart.Parts))
            {
                Line(key, literal);
            }

            Line("chords", BarsLiteral([.. section.Bars.Select(bar => BarText(bar, round))]));
            TuneTables("section", section.Tune, section.Bars, section.Name);
            foreach (var ending in section.Endings)
            {
                text.Append("\n[[section.ending]]\n");
                Line("chords", BarsLiteral([.. ending.Bars.Select(bar => BarText(bar, round))]));
                TuneTables("section.ending", ending.Tune, ending.Bars, section.Name);
            }
        }

        return text.ToString();

        void TuneTables(string header, Tune? tune, IReadOnlyList<ChartBar> bars, string name)
        {
            var meters = bars.Select(bar => bar.Meter).ToList();
            for (var line = 0; tune?.Voice(line) is not null; line++)
            {
                text.Append(CultureInfo.InvariantCulture, $"\n{(line == 0 ? $"[{header}.tune]" : $"[[{header}.line]]")}\n");
                foreach (var (key, literal) in TuneKeys(tune, line, meters, name, format))
                {
                    Line(key, literal);
                }
            }
        }
    }

    /// <summary>The keys of a section except chords and tune.</summary>
    /// <param name="section">The section.</param>
    /// <param name="said">The literals of its meter and its bar groups; null if the chart has the same.</param>
    /// <param name="parts">The band.</param>
    internal static IEnumerable<(string Key, string Literal)> SectionKeys(
        Section section, (string? Meter, string? BarGroups) said, IReadOnlyList<Part> parts)
    {
        (string Key, string? Literal)[] keys =
        [
            ("name", TomlLiteral.Text(section.Name)),
            ("meter", said.Meter),
            ("bar-groups", said.BarGroups),
            ("tempo", TempoLiteral(TempoText.Write(section))),
            ("join", section.Join is { } join ? TomlLiteral.Text(TempoText.Write(join)) : null),
            ("feel", section.Feel is { } feel ? TomlLiteral.Text(feel.Name()) : null),
            ("counted", section.Counted is { } counted ? TomlLiteral.Text(Word(counted)) : null),
            ("key", section.Key is { } key ? TomlLiteral.Text(key.ToString()) : null),
            ("play", section.Playing is { } playing ? TomlLiteral.List(playing.Select(part => parts[part].Name)) : null),
            ("stop-time", section.StopTime ? TomlLiteral.Flag(true) : null),
            ("break", section.BreakBars > 0 ? TomlLiteral.Number(section.BreakBars) : null),
            ("hold", section.HoldSeconds > 0 ? TomlLiteral.Number(section.HoldSeconds) : null),
            ("vamp", section.Vamp ? TomlLiteral.Flag(true) : null),
            .. OrderKeys.Write(section.Orders, parts),
        ];
        return keys.Where(entry => entry.Literal is not null).Select(entry => (entry.Key, entry.Literal!));
    }

    internal static string Word(Counted counted) => counted == Counted.Units ? "units" : "groups";

    internal static string? TempoLiteral(IReadOnlyList<string> tempi) => tempi.Count switch
    {
        0 => null,
        1 => TomlLiteral.Text(tempi[0]),
        _ => TomlLiteral.List(tempi),
    };

    /// <summary>A step of the form, played a number of times: "verse up 2 ending 1 x2".</summary>
    internal static string Step(string name, FormStep step, int times) => string.Create(
        CultureInfo.InvariantCulture,
        $"{name}{(step.Up > 0 ? $" up {step.Up}" : step.Up < 0 ? $" down {-step.Up}" : string.Empty)}{(step.Ending is { } ending ? $" ending {ending}" : string.Empty)}{(times == 1 ? string.Empty : $" x{times}")}");

    internal static string Seed(ulong seed) =>
        seed <= long.MaxValue ? TomlLiteral.Number((long)seed) : TomlLiteral.Text(seed.ToString(CultureInfo.InvariantCulture));

    internal static string BarGroupsLiteral(BarGroups groups) =>
        groups.Pattern.Count == 1
            ? TomlLiteral.Number(groups.Pattern[0])
            : "[" + string.Join(", ", groups.Pattern.Select(size => TomlLiteral.Number(size))) + "]";

    internal static string Meters(IReadOnlyList<BarMeter> round) =>
        round.Count == 1 ? TomlLiteral.Text(MeterWord(round[0])) : TomlLiteral.List(round.Select(MeterWord));

    internal static string MeterWord(BarMeter meter) =>
        meter.Grouping.Equals(Grouping.Usual(meter.Signature)) && (!meter.Grouping.IsUndivided || meter.Units <= 4)
            ? meter.Signature.ToString()
            : meter.ToString();

    internal static string BarsLiteral(IReadOnlyList<string> bars) =>
        bars.Count <= BarsInLine
            ? TomlLiteral.Text($"| {string.Join(" | ", bars)} |")
            : TomlLiteral.Lines(bars.Chunk(BarsInLine).Select(line => $"| {string.Join(" | ", line)} |"));

    /// <summary>The keys of a part that differ from the defaults of its role and instrument.</summary>
    internal static IEnumerable<(string Key, string Literal)> PartKeys(Part part, InstrumentCatalogue catalogue)
    {
        yield return ("name", TomlLiteral.Text(part.Name));
        yield return ("role", TomlLiteral.Text(part.Role.Name()));
        yield return ("instrument", TomlLiteral.Text(part.Instrument.Name));
        if ((part.Lowest, part.Highest) != catalogue.Register(part.Instrument, part.Role))
        {
            yield return ("register", TomlLiteral.Text(Register(part)));
        }

        if (!part.LevelDecibels.Equals(HouseBand.Level(part.Role)))
        {
            yield return ("level", TomlLiteral.Number(part.LevelDecibels));
        }

        if (part.Pan != HouseBand.Pan(part.Role))
        {
            yield return ("pan", TomlLiteral.Number(part.Pan));
        }

        if (part.Silent)
        {
            yield return ("silent", TomlLiteral.Flag(true));
        }

        foreach (var (key, literal, _) in Settings(part.Settings).Where(setting => !setting.IsUsual))
        {
            yield return (key, literal!);
        }
    }

    /// <summary>The register of a part, as lowest and highest pitch.</summary>
    internal static string Register(Part part) => $"{Pitch.FromMidi(part.Lowest)}-{Pitch.FromMidi(part.Highest)}";

    /// <summary>The oldest format that can express the whole chart.</summary>
    internal static int FormatOf(Chart chart) =>
        chart.Parts.Any(part => part.Silent)
        || chart.Form.Concat(chart.Tag).Any(step => step.Up != 0 || step.Ending is not null)
        || chart.Sections.Any(section => section.Endings.Count > 0 || section.Ramps.Count > 0 || section.Tempo?.After is not null)
            ? 2
            : chart.Sections.Select(section => section.Tune).OfType<Tune>().Select(TuneText.FormatOf).Append(1).Max();

    /// <summary>The keys of a tune's line.</summary>
    /// <param name="tune">The tune.</param>
    /// <param name="line">The line: 0 is the melody.</param>
    /// <param name="meters">The meters of the section's bars.</param>
    /// <param name="section">The section's name, for messages.</param>
    /// <param name="format">The format of the chart.</param>
    internal static IEnumerable<(string Key, string Literal)> TuneKeys(Tune tune, int line, IReadOnlyList<BarMeter> meters, string section, int format)
    {
        var voice = tune.Voice(line)!;
        var (pickup, bars) = new TuneText(format).Write(tune, line, meters, section);
        if (line > 0)
        {
            yield return ("name", TomlLiteral.Text(voice.Name));
        }

        if (pickup.Length > 0)
        {
            yield return ("pickup", TomlLiteral.Text(pickup));
        }

        yield return ("notes", BarsLiteral(bars));
        if (voice.Verses.Count > 0)
        {
            yield return ("words", WordsLiteral(voice.Verses));
        }
    }

    /// <summary>Verses as a list, one per line.</summary>
    internal static string WordsLiteral(IReadOnlyList<IReadOnlyList<Syllable?>> verses) =>
        "[\n" + string.Concat(verses.Select(verse => $"  {TomlLiteral.Text(TuneWords.Write(verse))},\n")) + "]";

    /// <summary>A bar's chords in the shortest of the three ways, with its meter if it differs from the section's.</summary>
    internal static string BarText(ChartBar bar, IReadOnlyList<BarMeter> round)
    {
        var marks = string.Join(' ', Marks(bar));
        if (!bar.Inserted)
        {
            return marks;
        }

        var meter = round.Any(other => other.Signature == bar.Meter.Signature) ? bar.Meter.ToString() : MeterWord(bar.Meter);
        return $"[{meter}] {marks}";
    }

    /// <summary>A bar's chords in the shortest of the three ways.</summary>
    internal static IEnumerable<string> Marks(ChartBar bar)
    {
        if (bar.Chords.Count == 1)
        {
            return [bar.Chords[0].Symbol.Text];
        }

        if (bar.Chords.Count == bar.Meter.GroupSizes.Count
            && bar.Chords.Zip(bar.Meter.GroupSizes).All(pair => pair.First.Length == bar.Meter.Unit * pair.Second))
        {
            return bar.Chords.Select(chord => chord.Symbol.Text);
        }

        var marks = new List<string>();
        foreach (var chord in bar.Chords)
        {
            var units = chord.Length / bar.Meter.Unit;
            if (!units.IsInteger)
            {
                throw new ChartProblemException($"the chord {chord.Symbol} starts or ends between two units of {bar.Meter}; move it to a unit");
            }

            marks.Add(chord.Symbol.Text);
            marks.AddRange(Enumerable.Repeat("/", (int)units.Numerator - 1));
        }

        return marks;
    }

    /// <summary>The keys of a role's settings, each with its literal (null if not set) and whether it is the default.</summary>
    internal static IEnumerable<(string Key, string? Literal, bool IsUsual)> Settings(RoleSettings settings)
    {
        switch (settings)
        {
            case PulseSettings pulse:
                var usualPulse = new PulseSettings();
                yield return ("strokes", TomlLiteral.Text(Word(pulse.Strokes)), pulse.Strokes == usualPulse.Strokes);
                yield return ("damped", TomlLiteral.Flag(pulse.Damped), pulse.Damped == usualPulse.Damped);
                yield return ("voices", TomlLiteral.Number(pulse.Voices), pulse.Voices == usualPulse.Voices);
                yield return ("share", TomlLiteral.Text(Word(pulse.Share)), pulse.Share == usualPulse.Share);
                yield return ("strum-ms", TomlLiteral.Number(pulse.StrumMs), pulse.StrumMs == usualPulse.StrumMs);
                break;
            case RollSettings roll:
                yield return ("crossing", TomlLiteral.Text(Word(roll.Crossing)), roll.Crossing == Crossing.Follow);
                yield return ("hand-limit-ms", roll.HandLimitMs is { } limit ? TomlLiteral.Number(limit) : null, roll.HandLimitMs is null);
                break;
            case BassSettings bass:
                yield return ("approaches", TomlLiteral.Number(bass.Approaches), bass.Approaches.Equals(new BassSettings().Approaches));
                yield return ("ring", bass.Ring is { } ring ? TomlLiteral.Number(ring) : null, bass.Ring is null);
                break;
            case SustainSettings sustain:
                yield return ("voices", TomlLiteral.Number(sustain.Voices), sustain.Voices == new SustainSettings().Voices);
                yield return ("laid-back", TomlLiteral.Text(Word(sustain.LaidBack)), sustain.LaidBack == LayBack.None);
                break;
            case TuneSettings tune:
                yield return ("octaves", TomlLiteral.Number(tune.Octaves), tune.Octaves == 0);
                yield return ("consonants", TomlLiteral.Flag(tune.Consonants), !tune.Consonants);
                yield return ("phrasing", TomlLiteral.Flag(tune.Phrasing), tune.Phrasing);
                yield return ("laid-back", TomlLiteral.Text(Word(tune.LaidBack)), tune.LaidBack == LayBack.None);
                break;
            case CountSettings count:
                yield return ("on", TomlLiteral.Text(Word(count.On)), count.On == CountOn.Felt);
                break;
        }
    }

    private static string Word(StrokeOrder strokes) => strokes switch
    {
        StrokeOrder.Heavy => "heavy",
        StrokeOrder.Down => "down",
        _ => "alternate",
    };

    private static string Word(PulseShare share) => share switch
    {
        PulseShare.Starts => "starts",
        PulseShare.Between => "between",
        _ => "all",
    };

    private static string Word(Crossing crossing) => crossing switch
    {
        Crossing.Free => "free",
        Crossing.Land => "land",
        _ => "follow",
    };

    private static string Word(LayBack by) => by switch
    {
        LayBack.Half => "half",
        LayBack.Unit => "unit",
        LayBack.Lean => "lean",
        _ => "none",
    };

    private static string Word(CountOn on) => on switch
    {
        CountOn.Units => "units",
        CountOn.Groups => "groups",
        CountOn.Bars => "bars",
        CountOn.Nothing => "nothing",
        _ => "felt",
    };

    // The shortest list of meters that repeats bar by bar, without inserted bars.
    internal static (Section Section, IReadOnlyList<BarMeter> Round) WithRound(Section section)
    {
        var (plain, round) = WithOwnRound(section);

        // Endings have the same meters; a short section does not show them all.
        var all = section.Endings.Select(ending => (IReadOnlyList<BarMeter>)Shortest([.. ending.Bars.Where(bar => !bar.Inserted).Select(bar => bar.Meter)]))
            .Prepend(round).FirstOrDefault(meters => meters.Count > 0 && MeterEdits.GoesRound(meters, section));
        return all is null || all.SequenceEqual(round) ? (plain, round) : (section, all);
    }

    private static (Section Section, IReadOnlyList<BarMeter> Round) WithOwnRound(Section section)
    {
        while (true)
        {
            var meters = section.Bars.Where(bar => !bar.Inserted).Select(bar => bar.Meter).ToList();
            var round = Shortest(meters);
            var bars = new List<ChartBar>(section.Bars.Count);
            var counted = 0;
            var changed = false;
            foreach (var bar in section.Bars)
            {
                var plain = bar.Inserted && (round.Count == 0 || bar.Meter == round[counted % round.Count]);
                bars.Add(plain ? bar with { Inserted = false } : bar);
                changed |= plain;
                counted += bar.Inserted ? 0 : 1;
            }

            if (!changed)
            {
                return (section, round);
            }

            section = section with { Bars = bars };
        }
    }

    private static List<BarMeter> Shortest(List<BarMeter> meters)
    {
        for (var size = 1; size < meters.Count; size++)
        {
            var repeats = true;
            for (var i = size; i < meters.Count && repeats; i++)
            {
                repeats = meters[i] == meters[i - size];
            }

            if (repeats)
            {
                return meters[..size];
            }
        }

        return meters;
    }
}
