using GrooveLab.Music.Analysis;
using GrooveLab.Music.Band;
using GrooveLab.Music.Feel;

namespace GrooveLab.Music.Ensemble.Checks;

/// <summary>Checks that the band's timing varies as in a real band: a slow drift, and a deviation from note to note about it; no place of the
/// bar early or late by more than a few milliseconds; parts that drift together; all within the range of real ensembles. Needs many bars,
/// since drifts are slow.</summary>
public static class FeelChecks
{
    /// <summary>Number of bars needed for stable results.</summary>
    public const int Bars = 512;

    /// <summary>The correlation of neighbouring notes: without drift it is zero, without a deviation from note to note nearly one.</summary>
    private const double LeastMemory = 0.2, MostMemory = 0.8;

    /// <summary>The deviation from note to note, in milliseconds, as the standard deviation of the difference of neighbouring notes.</summary>
    private const double LeastNoteMs = 4, MostNoteMs = 7;

    private const double MostBiasMs = 6;
    private const double MostDeviationMs = 12;

    /// <summary>Minimum number of notes at a place for a meaningful mean.</summary>
    private const int Enough = 100;

    /// <summary>Upper limit of the standard deviations of onset differences, 27 to 49 ms, that Rasch (1979) found in trios.</summary>
    private const double MostAsynchronyMs = 50;

    private const string Rasch = "Rasch 1979, Acustica 43: 121-131";

    /// <summary>All checks; none applies to a band without human feel.</summary>
    public static IEnumerable<CheckResult> Of(BandBars many)
    {
        var looseness = many.Chart?.Looseness ?? 1;
        var parts = many.PartsIn(Role.Pulse, Role.Roll, Role.Bass, Role.Sustain, Role.Tune)
            .Select(part => (many.Band[part.Part].Role, Onsets: Onsets(part.Notes, many.Chart?.GroupRatio ?? GroupTiming.Even)))
            .Where(part => part.Onsets.Count >= Enough && looseness > 0)
            .ToList();
        yield return new CheckResult
        {
            Name = "offset correlation",
            Value = parts.Where(part => part.Role is Role.Pulse or Role.Roll).Select(part => (double?)Memory(part.Onsets)).Min(),
            Unit = "r between neighbouring notes",
            AtLeast = LeastMemory,
        };
        yield return new CheckResult
        {
            Name = "offset memory",
            Value = parts.Where(part => part.Role is Role.Pulse or Role.Roll).Select(part => (double?)Memory(part.Onsets)).Max(),
            Unit = "highest r between neighbouring notes",
            AtMost = MostMemory,
        };
        var steady = parts.Where(part => part.Role is Role.Pulse or Role.Roll).Select(part => (double?)FromNoteToNote(part.Onsets)).ToList();
        yield return new CheckResult
        {
            Name = "note-to-note offset",
            Value = steady.MaxBy(deviation => Math.Abs((deviation ?? 0) - (looseness * (LeastNoteMs + MostNoteMs) / 2))),
            Unit = "ms deviation of neighbouring notes' difference, in pulse or roll",
            AtLeast = LeastNoteMs * looseness,
            AtMost = MostNoteMs * looseness,
        };
        yield return new CheckResult
        {
            Name = "offset bias",
            Value = parts.Select(part => Bias(part.Onsets)).Max(),
            Unit = "ms at the worst place of a bar",
            AtMost = MostBiasMs * Math.Max(1, looseness),
        };
        yield return new CheckResult
        {
            Name = "offset deviation",
            Value = parts.Select(part => (double?)Statistics.Deviation([.. part.Onsets.Select(onset => onset.Ms)])).Max(),
            Unit = "ms in the loosest part",
            AtMost = MostDeviationMs * Math.Max(1, looseness),
            Places = [.. parts.Select(part => FormattableString.Invariant(
                $"{part.Role.Name()} {Statistics.Deviation([.. part.Onsets.Select(onset => onset.Ms)]):0.0} ms")).Take(CheckResult.MostPlaces)],
        };

        double? together = null, asynchrony = null;
        for (var a = 0; a < parts.Count; a++)
        {
            for (var b = a + 1; b < parts.Count; b++)
            {
                var shared = parts[a].Onsets.Join(parts[b].Onsets, onset => onset.At, onset => onset.At, (x, y) => (A: x.Ms, B: y.Ms)).ToList();
                if (shared.Count < Enough)
                {
                    continue;
                }

                var apart = Statistics.Deviation([.. shared.Select(pair => pair.A - pair.B)]);
                asynchrony = Math.Max(asynchrony ?? 0, apart);
                // Sustaining parts drift so much on their own that a few bows do not show the shared drift.
                if (parts[a].Role != Role.Sustain && parts[b].Role != Role.Sustain)
                {
                    var correlation = Statistics.Correlation([.. shared.Select(pair => pair.A)], [.. shared.Select(pair => pair.B)]);
                    together = Math.Min(together ?? 1, correlation);
                }
            }
        }

        yield return new CheckResult { Name = "shared drift", Value = together, Unit = "lowest r between two parts", AtLeast = 0 };
        yield return new CheckResult
        {
            Name = "asynchrony",
            Value = asynchrony,
            Unit = "ms deviation between two parts",
            AtMost = MostAsynchronyMs,
            Source = Rasch,
        };
    }

    private static double Memory(IReadOnlyList<(Time.Position At, string Place, double Ms)> onsets) => Statistics.Correlation(
        [.. onsets.Take(onsets.Count - 1).Select(onset => onset.Ms)], [.. onsets.Skip(1).Select(onset => onset.Ms)]);

    private static double FromNoteToNote(IReadOnlyList<(Time.Position At, string Place, double Ms)> onsets) =>
        Statistics.Deviation([.. onsets.Zip(onsets.Skip(1), (one, next) => next.Ms - one.Ms)]);

    // The deviation from zero of the mean at any place of a bar.
    private static double? Bias(IReadOnlyList<(Time.Position At, string Place, double Ms)> onsets) => onsets
        .GroupBy(onset => onset.Place)
        .Where(place => place.Count() >= Enough)
        .Select(place => (double?)Math.Abs(place.Average(onset => onset.Ms)))
        .Max();

    // One per stroke: the notes of a chord share their feel, which excludes the spread of a strum, a lean, and a ratio of groups that the
    // chart asks for.
    private static List<(Time.Position At, string Place, double Ms)> Onsets(IReadOnlyList<PlacedNote> notes, double ratio) =>
    [
        .. notes.Where(placed => !placed.IsGrace).GroupBy(placed => placed.From).Select(stroke => stroke.First())
            .Select(placed => (placed.From, $"{placed.Bar.Meter} {placed.Note.Onset}", (placed.Note.OffsetMicroseconds - placed.Note.LeanMicroseconds - Shift(placed, ratio)) / 1000.0)),
    ];

    private static int Shift(PlacedNote placed, double ratio)
    {
        var bar = placed.Bar;
        var tempo = bar.Tempi.Last(tempo => tempo.Onset <= placed.Note.Onset || tempo.Onset == Time.Span.Zero).Tempo;
        return GroupTiming.Of(ratio, bar.Meter).ShiftMicroseconds(placed.Note.Onset, tempo);
    }
}
