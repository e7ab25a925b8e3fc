using System.Globalization;
using CsCheck;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Tests.Charts;
using GrooveLab.Music.Tests.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Tests.Ensemble;

/// <summary>A chart to play through, with a description of its content.</summary>
internal sealed record Gig(Chart Chart, string Text)
{
    public override string ToString() => Text;
}

/// <summary>Random charts: any meter and grouping, bars that alternate, chords, tempi, feels, with and without a tune.</summary>
internal static class Gigs
{
    private static readonly string[] Known =
    [
        "5/8 3+2", "5/8 2+3", "5/8", "5/4", "7/8 2+2+3", "7/8 3+2+2", "9/8 (2+2)+(2+3)", "11/8 3+3+3+2", "13/16 3+3+3+2+2", "13/16", "7/12",
        "7/12 5+2", "19/8 (3+3+3)+(3+3+2+2)", "19/8", "1/4", "1/16", "64/64", "4/4", "3/4", "2/4", "6/8", "12/8", "10/16 3+3+2+2", "3/2",
    ];

    private static readonly string[] Chords =
        ["Am", "G", "F", "E7", "Dm7", "Cm/Eb", "Bm7b5", "D7sus4", "Gm7", "C/E", "F#dim7", "Bbmaj7", "E5", "Am/G", "C", "N.C."];

    private static readonly int[] UnitMs = [70, 85, 100, 120, 150, 180, 200, 218, 250, 300, 400, 600];

    private static readonly int[][] Groups = [[4], [4], [2], [3], [1], [4, 4, 2]];

    private static readonly Instrument[] Rolls = [Players.Banjo, Players.Bouzouki, Players.Dulcimer, Players.Guitar];

    private static readonly int[] Scale = [57, 59, 60, 62, 64, 65, 67, 69, 71, 72, 74, 76, 77, 79];

    private static readonly Gen<BarMeter> AnyMeter =
        Gen.Frequency((4, Gen.OneOf(Known).Select(Meters.Read)), (1, Meters.All.Where(meter => meter.Units <= 24)));

    /// <summary>Charts of any kind.</summary>
    public static readonly Gen<Gig> All =
        Gen.Select(AnyMeter, AnyMeter, Gen.Int[0, 9999].Array[200], (a, b, raw) => Build(a, b, new Dice(raw))).Where(HasRoomForPickups);

    /// <summary>The same without changes of tempo.</summary>
    public static readonly Gen<Gig> Steady = All.Where(gig => gig.Chart.Sections.All(section => section.Tempo is null));

    /// <summary>Charts that stop: stop-time, breaks, holds, parts that rest, a tune that lays back and marks its consonants.</summary>
    public static readonly Gen<Gig> Stopping = Gen.Select(Steady, Gen.Int[0, 9999].Array[20], (gig, raw) => Stopped(gig, new Dice(raw)));

    /// <summary>Charts that leave the strings hardly any key: bare fifths, a tune on the same two tones, two held voices; some so slow
    /// that a unit lasts many seconds.</summary>
    public static readonly Gen<Gig> Crowded = Gen.Select(Steady, Gen.Int[0, 9999].Array[20], (gig, raw) => Crowd(gig, new Dice(raw)));

    // A pickup as long as a bar does not fit into a shorter section before it; such a chart is refused.
    private static bool HasRoomForPickups(Gig gig) => gig.Chart.Sections.All(section => section.Tune?.PickupLength is not { } pickup
        || gig.Chart.Sections.All(other => other.Bars.Aggregate(Span.Zero, (sum, bar) => sum + bar.Meter.Length) >= pickup));

    private static Gig Crowd(Gig gig, Dice dice)
    {
        var fifth = ChordSymbol.Parse("E5");
        var pitches = new[] { 71, 64, 59, 76 }.Select(midi => Pitch.FromMidi(midi)).ToArray();
        var quarters = dice.Next(3) == 0 ? 2 + dice.Next(20) : (int?)null;
        var chart = gig.Chart with
        {
            Sections = [.. gig.Chart.Sections.Select(section => section with
            {
                Bars = [.. section.Bars.Select(bar => bar with { Chords = [.. bar.Chords.Select(chord => chord with { Symbol = fifth })] })],
                Tune = section.Tune is not { } tune ? null : Tune.Of(
                    [.. tune.Notes.Select(note => note with { Pitch = pitches[dice.Next(pitches.Length)], Graces = [] })], tune.Verses, section.Bars),
            })],
            Tempo = quarters is { } slow ? Sheet.Of(1, 4, slow) : gig.Chart.Tempo,
        };
        return new Gig(chart, $"{gig.Text}; crowded, quarters a minute: {quarters?.ToString(CultureInfo.InvariantCulture) ?? "as they were"}");
    }

    private static Gig Stopped(Gig gig, Dice dice)
    {
        var words = new List<string> { gig.Text };
        var chart = gig.Chart with
        {
            Parts = [.. gig.Chart.Parts.Select(part => part.Role != Role.Tune ? part : part with
            {
                Settings = new TuneSettings { LaidBack = (LayBack)dice.Next(3), Consonants = dice.Next(2) == 0 },
            })],
            Sections = [.. gig.Chart.Sections.Select(section => section with
            {
                StopTime = dice.Next(3) == 0,
                BreakBars = dice.Next(2) == 0 ? dice.Next(section.Bars.Count + 1) : 0,
                HoldSeconds = dice.Next(2) == 0 ? 1 + dice.Next(14) : 0,
                Playing = dice.Next(4) == 0 ? [.. Enumerable.Range(0, gig.Chart.Parts.Count).Where(_ => dice.Next(2) == 0)] : null,
            })],
            Tag = dice.Next(3) == 0 ? [new FormStep(0, 1)] : [],
        };
        words.AddRange(chart.Sections.Select(section =>
            $"{section.Name} stop-time {section.StopTime} break {section.BreakBars} hold {section.HoldSeconds} play {string.Join(' ', section.Playing ?? [-1])}"));
        return new Gig(chart, string.Join("; ", words));
    }

    private static Gig Build(BarMeter first, BarMeter second, Dice dice)
    {
        var words = new List<string>();
        var alternates = dice.Next(4) == 0;
        var sections = new List<Section> { Verse("A", index => alternates && index % 2 == 1 ? second : first, second, dice, words) };
        if (dice.Next(2) == 0)
        {
            sections.Add(Verse("B", _ => second, first, dice, words));
        }

        var ms = UnitMs[dice.Next(UnitMs.Length)];
        var feel = dice.Next(6) is var felt && felt < 4 ? (FeltLevel)felt : (FeltLevel?)null;
        var roll = Rolls[dice.Next(Rolls.Length)];
        var crossing = (Crossing)dice.Next(3);
        var pulse = new PulseSettings { Damped = dice.Next(3) > 0, Strokes = (StrokeOrder)dice.Next(3), Voices = 2 + dice.Next(3) };
        var sustain = new SustainSettings { Voices = 1 + dice.Next(2), LaidBack = dice.Next(3) == 0 ? (LayBack)dice.Next(3) : LayBack.None };
        var times = 1 + dice.Next(2);
        words.Add(string.Create(
            CultureInfo.InvariantCulture,
            $"unit {ms} ms, felt {feel?.Name() ?? "as it comes"}, {roll.Name} {crossing}, pulse {pulse.Voices} {pulse.Strokes}{(pulse.Damped ? " damped" : "")}, sustain {sustain.Voices} {sustain.LaidBack}, form x{times}"));
        var chart = Sheet.Chart([.. sections]) with
        {
            Tempo = Sheet.Of(TempoLevel.Unit, new Rational(60_000, ms)),
            Feel = feel,
            Parts =
            [
                Players.Pulse(pulse), Players.Roll(roll, new RollSettings { Crossing = crossing }), Players.Bass(),
                Players.Sustain(sustain), Players.Tune(), Players.Clicks(),
            ],
            Form = [.. sections.Select((_, i) => new FormStep(i, i == 0 ? times : 1))],
            Seed = (ulong)dice.Next(10_000),
            IsArranged = dice.Next(2) == 0,
        };
        return new Gig(chart, string.Join("; ", words));
    }

    private static Section Verse(string name, Func<int, BarMeter> meterOf, BarMeter odd, Dice dice, List<string> words)
    {
        var bars = new List<ChartBar>();
        var count = 1 + dice.Next(9);
        var chord = Chords[dice.Next(Chords.Length - 1)];
        for (var i = 0; i < count; i++)
        {
            var inserted = i > 0 && dice.Next(12) == 0;
            var meter = inserted ? odd : meterOf(i);
            var many = dice.Next(6) switch
            {
                0 when meter.GroupSizes.Count <= 6 => meter.GroupSizes.Count,
                1 when meter.Units is > 1 and < 6 => meter.Units,
                _ => 1,
            };
            var names = new List<string>();
            for (var j = 0; j < many; j++)
            {
                chord = dice.Next(3) == 0 ? chord : Chords[dice.Next(Chords.Length)];
                names.Add(chord);
            }

            bars.Add(Sheet.Bar(meter, string.Join(' ', names), inserted));
            words.Add($"{name}{i + 1}: {meter} {string.Join(' ', names)}{(inserted ? " inserted" : "")}");
        }

        var groups = Groups[dice.Next(Groups.Length)];
        words.Add($"{name} groups {string.Join('+', groups)}");
        var ramp = dice.Next(8) == 0;
        words.Add(ramp ? $"{name} ramps" : $"{name} steady");
        var section = Sheet.Section(name, bars, groups) with { Tune = dice.Next(2) == 0 ? Song(bars, dice, words) : null };
        return ramp ? section with { Tempo = new TempoChange(null, Sheet.Of(1, 8, 260), null) } : section;
    }

    private static Tune Song(List<ChartBar> bars, Dice dice, List<string> words)
    {
        var notes = new List<TuneNote>();
        var unit = bars[0].Meter.Unit;
        var end = bars.Aggregate(Span.Zero, (sum, bar) => sum + bar.Meter.Length);
        var at = dice.Next(3) == 0 ? -unit : Span.Zero;
        var step = dice.Next(Scale.Length);
        while (at < end)
        {
            var length = Span.Min(unit * new Rational(1 + dice.Next(8), 2), at < Span.Zero ? -at : end - at);
            if (dice.Next(6) > 0)
            {
                step = Math.Clamp(step + dice.Next(5) - 2, 0, Scale.Length - 1);
                var pitch = Pitch.FromMidi(Scale[step]);
                notes.Add(new TuneNote(at, length, pitch, dice.Next(12) == 0 ? [Pitch.FromMidi(Scale[step] + 2)] : []));
            }

            at += length;
        }

        words.Add("tune " + string.Join(' ', notes.Take(40).Select(note => $"{note.Pitch}@{note.Onset}+{note.Length}")));
        return Tune.Of(notes, [], bars);
    }

    private sealed class Dice(int[] raw)
    {
        private int _at;

        public int Next(int sides) => (raw[_at++ % raw.Length] + (_at / raw.Length)) % sides;
    }
}
