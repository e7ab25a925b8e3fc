using GrooveLab.Music.Analysis;
using GrooveLab.Music.Band;

namespace GrooveLab.Music.Ensemble.Checks;

/// <summary>
/// Whether the band's unevenness is a band's: slow drifts rather than noise, no place of the bar always early or late, players who drift
/// together, all inside what ensembles do. Measured on many bars, since a drift shows only over many.
/// </summary>
public static class FeelChecks
{
    /// <summary>Bars that these numbers need to settle.</summary>
    public const int Bars = 512;

    private const double LeastMemory = 0.3;
    private const double MostBiasMs = 3;
    private const double MostDeviationMs = 12;

    /// <summary>Fewer notes at a place than this say nothing about their mean.</summary>
    private const int Enough = 100;

    /// <summary>
    /// Upper end of the standard deviations of onset differences, 27 to 49 ms, that Rasch (1979) found in trios.
    /// </summary>
    private const double MostAsynchronyMs = 50;

    private const string Rasch = "Rasch 1979, Acustica 43: 121-131";

    /// <summary>All of them; nothing applies to a band without human feel.</summary>
    public static IEnumerable<CheckResult> Of(BandBars many)
    {
        var looseness = many.Chart?.Looseness ?? 1;
        var parts = many.PartsIn(Role.Pulse, Role.Roll, Role.Bass, Role.Sustain, Role.Tune)
            .Select(part => (many.Band[part.Part].Role, Onsets: Onsets(part.Notes)))
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
                // Who holds drifts so much on its own account that the shared part is lost in so few bows.
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

    // How far the mean at any place of a bar is from nothing.
    private static double? Bias(IReadOnlyList<(Time.Position At, string Place, double Ms)> onsets) => onsets
        .GroupBy(onset => onset.Place)
        .Where(place => place.Count() >= Enough)
        .Select(place => (double?)Math.Abs(place.Average(onset => onset.Ms)))
        .Max();

    // One for each stroke: the notes of a chord share their feel, and a strum's spread is not part of it.
    private static List<(Time.Position At, string Place, double Ms)> Onsets(IReadOnlyList<PlacedNote> notes) =>
    [
        .. notes.Where(placed => !placed.IsGrace).GroupBy(placed => placed.From).Select(stroke => stroke.First())
            .Select(placed => (placed.From, $"{placed.Bar.Meter} {placed.Note.Onset}", placed.Note.OffsetMicroseconds / 1000.0)),
    ];
}
