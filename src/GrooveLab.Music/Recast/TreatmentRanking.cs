using GrooveLab.Music.Charts;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Recast;

/// <summary>A treatment among others.</summary>
/// <param name="Song">The song in it.</param>
/// <param name="Measures">What it kept and changed.</param>
/// <param name="Rank">Its rank among those of the same time signature and conversion, from 1: only their costs compare.</param>
public sealed record RankedTreatment(TreatedSong Song, RecastMeasures Measures, int Rank);

/// <summary>Lays out the treatments in which a song might live.</summary>
public static class TreatmentRanking
{
    // The meters in which songs are recast; others are found by naming them.
    private static readonly TimeSignature[] Meters =
    [
        new(5, 8), new(7, 8), new(9, 8), new(8, 8), new(6, 8), new(3, 4), new(5, 4), new(7, 4), new(10, 8), new(11, 8),
    ];

    private const int Minute = 60;
    private const double ShortestUnit = 0.12;
    private const double LongestUnit = 0.8;

    /// <summary>All plausible treatments with the song in each: first by conversion and time signature, then by cost.</summary>
    /// <param name="source">The song.</param>
    /// <param name="wish">A meter to which the ranking is limited, with what else is wished; null for all meters.</param>
    /// <param name="options">What else is asked for; its treatment is replaced.</param>
    /// <exception cref="ChartProblemException">A meter is named and none of its treatments fits.</exception>
    public static IReadOnlyList<RankedTreatment> Of(Chart source, TreatmentWish? wish, RecastOptions options)
    {
        var usual = source.Sections.SelectMany(section => section.Bars).GroupBy(bar => bar.Meter).MaxBy(group => group.Count())!.Key;
        var treatments = wish is not null ? TreatmentChoice.Treatments(source, wish) : [.. Plausible(source, usual)];
        var songs = new List<TreatedSong>();
        foreach (var treatment in treatments.Where(treatment => treatment.To != usual))
        {
            try
            {
                songs.Add(TreatmentChoice.Treated(source, options with { Treatment = treatment }));
            }
            catch (ChartProblemException) when (wish is null)
            {
                // A meter that does not fit this song is no candidate.
            }
        }

        return
        [
            .. songs.GroupBy(song => (song.Treatment.To.Signature, song.Treatment.Span, IsAdded: song.Treatment.BeatAfter is not null))
                .SelectMany(group => group.OrderBy(song => song.Cost).Select((song, i) => new RankedTreatment(song, new RecastMeasures(song.Recasting), i + 1))),
        ];
    }

    private static IEnumerable<Treatment> Plausible(Chart source, BarMeter usual)
    {
        var whole = Minute / new FormPlan(source).BarAt(0).SteadyTempo.WholesPerMinute.ToDouble();
        foreach (var signature in Meters.Where(signature => signature != usual.Signature))
        {
            foreach (var treatment in Fitting(source, new TreatmentWish(signature)))
            {
                var unit = treatment.LengthIn(usual).Wholes.ToDouble() * whole / treatment.To.Units;
                if (unit is >= ShortestUnit and <= LongestUnit)
                {
                    yield return treatment;
                }
            }
        }

        var beats = usual.Length / Treatment.BeatOf(usual);
        var longer = (usual.Length + Treatment.BeatOf(usual)) / usual.Unit;
        for (var beat = 1; beats.IsInteger && longer.IsInteger && longer.Numerator <= TimeSignature.LargestNumerator && beat <= beats.Numerator; beat++)
        {
            foreach (var treatment in Fitting(source, new TreatmentWish(new TimeSignature((int)longer.Numerator, usual.Signature.Denominator)) { BeatAfter = beat }))
            {
                yield return treatment;
            }
        }
    }

    private static IReadOnlyList<Treatment> Fitting(Chart source, TreatmentWish wish)
    {
        try
        {
            return TreatmentChoice.Treatments(source, wish);
        }
        catch (ChartProblemException)
        {
            return [];
        }
    }
}
