using System.Globalization;
using System.Text;
using GrooveLab.Exchange.Charts;
using GrooveLab.Music.Analysis;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Performance;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Tests;

/// <summary>Known rhythms, tapped with random deviations, are found again; the table in the documentation says how often.</summary>
public sealed class TappedWordsTests
{
    private const int Tries = 200;
    private const double Deviation = 0.02;

    // Nearer than six and a half deviations, the places of two notes are often mistaken for each other.
    private const double Closest = 0.13;

    // Written for these tests: units only, halves, a pickup with a rest, triplets in a unit and over two.
    private static readonly (string Meter, string Tune)[] Rhythms =
    [
        ("5/8 3+2", "| D4:2 E4:1 F4:2 | G4:3 F4:2 | D4:1 E4 F4 G4 A4 | D4:5 |"),
        ("5/8 3+2", "| D4:1.5 E4:0.5 F4:1 E4:2 | G4:3 F4:1 E4:1 | D4:2 E4:0.5 F4:0.5 G4:2 | D4:5 |"),
        ("7/8 2+2+3", "| D4:2 E4:2 F4:3 | G4:1 F4:1 E4:2 F4:2 G4:1 | A4:4 G4:3 | D4:7 |"),
        ("5/8 3+2", "| D4:3 {3:2 E4:1 F4 E4} | G4:3 F4:2 | D4:2 E4:1 {3:2 F4:1 G4 F4} | D4:5 |"),
        ("7/8 2+2+3", "| D4:1 E4:0.5 F4:0.5 E4:0.5 F4:1 E4:0.5 D4:3 | G4:1 F4:1 E4:2 F4:3 | A4:4 G4:3 | D4:7 |"),
        ("7/8 2+2+3", "| {3:2 D4:1 E4 F4} E4:2 D4:3 | G4:1 F4:1 {3:2 E4:1 F4 E4} F4:3 | A4:4 G4:3 | D4:7 |"),
        ("7/8 3+2+2", "| D4:3 E4:1 F4:1 E4:1.5 F4:0.5 | G4:2.5 A4:0.5 G4:4 | z:1 A4:2 G4:1 A4:3 | D4:7 |"),
        ("9/8 2+2+2+3", "| D4:2 E4:0.5 F4:1 G4:0.5 G4:2 A4:3 | G4:1.5 F4:0.5 E4:1 F4:1 G4:2 A4:2 G4:1 | A4:4 G4:5 | D4:9 |"),
        ("9/8 2+2+2+3", "| D4:2 {3:2 E4:1 F4 G4} G4:2 A4:3 | G4:1 F4:1 {3:2 E4:1 F4 G4} G4:2 A4:2 G4:1 | A4:4 G4:5 | D4:9 |"),
        ("4/4", "| D4:1 E4 F4 G4 | A4:1.5 G4:0.5 F4:2 | G4:0.5 A4:0.5 G4:0.5 F4:0.5 E4:2 | D4:4 |"),
        ("4/4", "| D4:1 {3:2 E4:0.5 F4:0.5 G4:0.5} A4:2 | G4:0.5 F4:0.5 {3:2 E4:0.5 F4 G4} A4:2 | z:2 G4:1 F4:1 | D4:4 |"),
    ];

    private static readonly (string Meter, int[] Tempi)[] Tempi = [("5/8", [160, 240, 320]), ("7/8", [160, 240, 320]), ("9/8", [160, 240, 320]), ("4/4", [72, 100, 132])];

    [Fact]
    public void Of_TapsSomeMillisecondsOff_FindsTheRhythmAgain()
    {
        var table = new StringBuilder("| meter | rhythm | units a minute | whole rhythms right at 10 ms, % | at 20 ms, % | at 30 ms, % | taps right at 20 ms, % |\n|---|---|---|---|---|---|---|\n");
        foreach (var (meter, tune) in Rhythms)
        {
            foreach (var tempo in Tempi.Single(entry => meter.StartsWith(entry.Meter, StringComparison.Ordinal)).Tempi)
            {
                var section = Section(meter, tune);
                var notes = section.Tune!.Notes;
                var seconds = 60.0 / tempo / section.Bars[0].Meter.Unit.Wholes.ToDouble();
                var rows = new[] { 0.01, Deviation, 0.03 }.Select(deviation => Share(section, seconds, deviation)).ToList();

                // A triplet over two units is a sixth of a unit from the nearest rhythm in halves.
                var closest = tune.Contains("{3:2 E4:1", StringComparison.Ordinal) || tune.Contains("{3:2 D4:1", StringComparison.Ordinal)
                    ? (section.Bars[0].Meter.Unit.Wholes / 6).ToDouble() * seconds
                    : notes.Skip(1).Zip(notes, (next, note) => (next.Onset - note.Onset).Wholes.ToDouble() * seconds).Min();
                Assert.True(rows[1].Whole >= 0.95 || closest < Closest, $"{meter} {tune} at {tempo}: {rows[1].Whole}");
                Assert.True(rows[0].Whole >= 0.95 || closest < 0.1, $"{meter} {tune} at {tempo}: {rows[0].Whole}");
                table.AppendLine(CultureInfo.InvariantCulture, $"| {meter} | `{tune.Replace("|", "/", StringComparison.Ordinal)}` | {tempo} | {string.Join(" | ", rows.Select(row => MeasuredTable.Number(100 * row.Whole)))} | {MeasuredTable.Number(100 * rows[1].Right)} |");
            }
        }

        new MeasuredTable("tapped-words.md").Says(table.ToString());
    }

    // Three notes on two units, tapped with 10 ms of deviation at 240 units a minute: 42 ms from the nearest halves.
    [Theory]
    [InlineData("5/8 3+2", "| D4:3 {3:2 E4:1 F4 E4} | G4:3 F4:2 | D4:2 E4:1 {3:2 F4:1 G4 F4} | D4:5 |")]
    [InlineData("7/8 2+2+3", "| {3:2 D4:1 E4 F4} E4:2 D4:3 | G4:1 F4:1 {3:2 E4:1 F4 E4} F4:3 | A4:4 G4:3 | D4:7 |")]
    [InlineData("9/8 2+2+2+3", "| D4:2 {3:2 E4:1 F4 G4} G4:2 A4:3 | G4:1 F4:1 {3:2 E4:1 F4 G4} G4:2 A4:2 G4:1 | A4:4 G4:5 | D4:9 |")]
    public void Of_TripletOverAGroupOfTwo_IsFoundAndWrittenAsOne(string meter, string tune)
    {
        var section = Section(meter, tune);
        var seconds = 8 * 60.0 / 240;
        Assert.InRange(Share(section, seconds, 0.01).Whole, 0.7, 1);
        var exact = section.Tune!.Notes.Select(note => new GridTap(note.Onset.Wholes.ToDouble(), seconds)).ToList();
        var chart = ChartReader.ReadText(Text(meter, tune), "song").Chart!;
        var changed = TappedRhythm.Of(section, exact)!.Change.ApplyTo(PerformanceState.Opening(chart, Exchange.Instruments.InstrumentFile.BuiltIn), new PerformancePlace(0, 0, 1)).State.Chart;
        Assert.Equal(section.Tune.Written.Parts[0].Measures.SelectMany(Values), changed.Sections[0].Tune!.Written.Parts[0].Measures.SelectMany(Values));

        static IEnumerable<string> Values(Music.Notation.PartMeasure measure) => measure.Voices.SelectMany(voice => voice.Events).Select(one => $"{one.Length} {string.Join(' ', one.Tuplets.Select(tuplet => $"{tuplet.Actual}:{tuplet.Normal}"))}");
    }

    // The rhythm in halves that is nearest to the triplet.
    [Theory]
    [InlineData("5/8 3+2", "| D4:3 E4:0.5 F4:1 E4:0.5 | G4:3 F4:2 | D4:2 E4:1 F4:0.5 G4:1 F4:0.5 | D4:5 |")]
    [InlineData("9/8 2+2+2+3", "| D4:2 E4:0.5 F4:1 G4:0.5 G4:2 A4:3 | G4:1.5 F4:0.5 E4:1 F4:1 G4:2 A4:2 G4:1 | A4:4 G4:5 | D4:9 |")]
    public void Of_SyncopationInHalves_StaysInHalves(string meter, string tune) => Assert.InRange(Share(Section(meter, tune), 8 * 60.0 / 240, 0.01).Whole, 0.99, 1);

    // The share of whole rhythms, and of taps, that are right.
    private static (double Whole, double Right) Share(Section section, double seconds, double deviation)
    {
        var random = new Random(12);
        var notes = section.Tune!.Notes;
        var (whole, right) = (0, 0);
        for (var run = 0; run < Tries; run++)
        {
            var taps = notes.Select(note => note.Onset.Wholes.ToDouble() + (deviation * Normal(random) / seconds)).Order().Select(at => new GridTap(at, seconds)).ToList();
            var found = Onsets(TappedRhythm.Of(section, taps)!, section);
            var same = found.Zip(notes).Count(pair => pair.First.Onset == pair.Second.Onset);
            right += same;
            whole += same == notes.Count ? 1 : 0;
        }

        return ((double)whole / Tries, (double)right / Tries / notes.Count);
    }

    [Fact]
    public void Of_CrowdedTapsBeforeTheSection_StayInHalfABar()
    {
        // A pedal that is held down repeats: fourteen taps within half a second, from 3.4 units before the bar line.
        var section = Section("7/8 2+2+3", "| D4:1 E4 F4 G4 A4 G4 F4 | D4:1 E4 F4 G4 A4 G4 F4 |");
        var seconds = 8 * 60.0 / 260;
        var taps = Enumerable.Range(0, 14).Select(i => new GridTap((-3.4 / 8) + (i * 0.035 / seconds), seconds)).ToList();
        if (TappedRhythm.Of(section, taps) is { } tapped)
        {
            Assert.True(Onsets(tapped, section)[0].Onset >= Span.Of(-7, 16), tapped.Change.Words);
        }
    }

    private static IReadOnlyList<TuneNote> Onsets(TappedRhythm tapped, Section section)
    {
        var chart = ChartReader.ReadText(Text("4/4", "| C4:4 |"), "song").Chart! with { Sections = [section] };
        var state = PerformanceState.Opening(chart, Exchange.Instruments.InstrumentFile.BuiltIn);
        return tapped.Change.ApplyTo(state, new PerformancePlace(0, 0, 1)).State.Chart.Sections[0].Tune!.Notes;
    }

    private static Section Section(string meter, string tune) => ChartReader.ReadText(Text(meter, tune), "song").Chart!.Sections[0];

    private static string Text(string meter, string tune) => $$"""
        format = 2
        title = "Taps"
        key = "D minor"
        tempo = "quarter = 100"
        meter = "{{meter}}"

        [[section]]
        name = "verse"
        chords = "{{string.Join(' ', tune.Split('|', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries).Select(_ => "| Dm"))}} |"
        [section.tune]
        notes = "{{tune}}"
        """;

    // Box and Muller (1958).
    private static double Normal(Random random) => Math.Sqrt(-2 * Math.Log(1 - random.NextDouble())) * Math.Cos(2 * Math.PI * random.NextDouble());
}
