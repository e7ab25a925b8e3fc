using GrooveLab.Music.Band;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>The small unevenness of a good band: one slow drift shared by all, one per part, a deviation per note, and a small mean for each
/// place of the bar that stays through the piece. Bounded, repeatable, and zero when looseness is 0. The count has none.</summary>
/// <remarks>Sizes: common practice, no source; together they stay within the asynchronies of 30 to 50 ms that Rasch (1979) found in
/// ensembles. That durations of one kind differ regularly inside the bar was measured by Polak (2016, Empirical Musicology Review 10:
/// 329-340) on the recordings of Goldberg (2015, the same volume: 305-328).</remarks>
internal sealed class HumanFeel(ulong seed, double looseness)
{
    private const int Remembered = 10;

    private static readonly double Norm = Math.Sqrt(1 - (BarFeel.Memory * BarFeel.Memory));

    private readonly Chance _chance = Chance.From(seed).For("feel");
    private readonly Chance _drift = Chance.From(seed).For("feel").For("drift");

    /// <summary>Creates the feel of one bar, for parts numbered from 0.</summary>
    public BarFeel In(int bar, int parts)
    {
        if (looseness <= 0)
        {
            return new BarFeel(_chance, bar, 0, [], []);
        }

        // The shared drift is stored after those of the parts.
        var here = new double[parts + 1];
        var next = new double[parts + 1];
        for (var part = 0; part <= parts; part++)
        {
            var stream = part == parts ? -1 : part;
            here[part] = DriftAt(stream, bar);
            next[part] = DriftAt(stream, bar + 1);
        }

        return new BarFeel(_chance, bar, looseness, here, next);
    }

    private double DriftAt(int stream, int bar)
    {
        var chance = _drift.At(stream);
        var sum = 0.0;
        var share = Norm;
        for (var back = 0; back < Remembered; back++)
        {
            sum += share * chance.At(bar - back).Normal();
            share *= BarFeel.Memory;
        }

        return sum;
    }
}

/// <summary>The feel of one bar.</summary>
internal sealed class BarFeel(Chance chance, int bar, double looseness, double[] here, double[] next)
{
    /// <summary>The share of the drift left after a bar: a half-life of 1.5 bars.</summary>
    public const double Memory = 0.63;

    private const double SharedMs = 2.9;
    private const int LargestWander = 3;

    // The means of places are the same for all parts, so that the band stays together. None is nothing: the deviations of notes would hide it.
    private const double LeastPlaceMs = 1.4;
    private const double MostPlaceMs = 2.5;
    private const double PlaceMs = (LeastPlaceMs + MostPlaceMs) / 2;

    private const double Clip = 3;

    private readonly Chance _notes = chance.For("note").At(bar);
    private readonly Chance _velocities = chance.For("velocity").At(bar);
    private readonly Chance _places = chance.For("place");

    /// <summary>The delay of a note, in microseconds.</summary>
    /// <param name="part">Index of the part.</param>
    /// <param name="role">Its role.</param>
    /// <param name="inBar">The place in the bar, 0-1.</param>
    /// <param name="step">Identifies the stroke in the bar: all notes of a chord share it.</param>
    public int OffsetMicroseconds(int part, Role role, Rational inBar, int step)
    {
        if (looseness <= 0 || role == Role.Count)
        {
            return 0;
        }

        var own = OwnMs(role);
        var note = NoteMs(role);
        var total = Math.Sqrt((SharedMs * SharedMs) + (own * own) + (note * note) + (PlaceMs * PlaceMs));
        var at = inBar.ToDouble();
        var ms = (SharedMs * Drift(here.Length - 1, at)) + (own * Drift(part, at)) + (note * Clipped(_notes.At(part).At(step).Normal())) + PlaceMean(inBar);
        ms = Math.Clamp(ms, -Clip * total, Clip * total) + LeanMs(role);
        return (int)Math.Round(ms * looseness * 1000);
    }

    /// <summary>The deviation from the written velocity, in velocity steps.</summary>
    public int Wander(int part, int step) =>
        looseness <= 0 ? 0 : _velocities.At(part).At(step).Below((2 * LargestWander) + 1) - LargestWander;

    private static double OwnMs(Role role) => role switch
    {
        Role.Roll => 2.4,
        Role.Sustain => 8.7,
        _ => 3.9,
    };

    // From note to note: hands that strike every unit or step vary most; held notes hide it.
    private static double NoteMs(Role role) => role switch
    {
        Role.Pulse or Role.Roll => 4,
        Role.Bass => 3,
        _ => 2,
    };

    private static double Clipped(double deviations) => Math.Clamp(deviations, -Clip, Clip);

    // The bar line is where the others are measured from.
    private double PlaceMean(Rational inBar)
    {
        var place = _places.At((long)inBar.Numerator).At((long)inBar.Denominator);
        return inBar == Rational.Zero ? 0
            : (place.Happens(0.5) ? 1 : -1) * (LeastPlaceMs + ((MostPlaceMs - LeastPlaceMs) * place.At(1).Unit));
    }

    // The bass plays slightly late.
    private static double LeanMs(Role role) => role == Role.Bass ? 2 : 0;

    private double Drift(int stream, double at)
    {
        // Linear interpolation would reduce the deviation between two bars; keep it constant.
        var calm = Math.Sqrt(((1 - at) * (1 - at)) + (at * at) + (2 * Memory * at * (1 - at)));
        return ((here[stream] * (1 - at)) + (next[stream] * at)) / calm;
    }
}
