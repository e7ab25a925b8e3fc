using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>The places of a roll's notes in each bar of a run: the longest division of the unit that is a sixteenth or shorter, thinned
/// inside the groups if it is faster than the hand can play.</summary>
/// <remarks>The hand's limit: common practice, no source; London (2002) puts the limit of hearing a division at 100 ms.</remarks>
internal sealed class RollGrid
{
    // How far the tempo may pass a limit before the density changes again.
    private static readonly Rational Slack = new(5, 100);
    private static readonly Span Sixteenth = Span.Of(1, 16);

    // Ratios of swing at which two notes in the long half and one in the short half are even within a tenth.
    private static readonly Rational LeastTriplet = new(20, 11);
    private static readonly Rational MostTriplet = new(22, 10);

    private readonly int[] _thinning;
    private readonly Span[][] _onsets;
    private readonly int[] _firstNote;

    public RollGrid(RunOutline outline, int handLimitMs, Rational swing, Func<int, PartTask> taskOf)
    {
        var places = outline.Places;
        _thinning = new int[places.Length];
        _onsets = new Span[places.Length][];
        _firstNote = new int[places.Length + 1];
        var limit = new Rational(handLimitMs, 1000);
        var thinning = 1;
        for (var bar = 0; bar < places.Length; bar++)
        {
            // The density changes only at the start of a section or bar group, or when the unit changes.
            if (bar == 0 || places[bar].GroupPlace.IsFirst || places[bar].Meter.Unit != places[bar - 1].Meter.Unit)
            {
                thinning = Thinning(places[bar], limit, bar == 0 ? null : thinning);
            }

            _thinning[bar] = thinning;
            _onsets[bar] = Swung(Onsets(places[bar].Meter, thinning, (StepOf(places[bar].Meter), places[bar].Tempo, limit)), places[bar], swing, limit);
            _onsets[bar] = Asked(_onsets[bar], places[bar].Meter, taskOf(bar));
            _firstNote[bar + 1] = _firstNote[bar] + _onsets[bar].Length;
        }
    }

    /// <summary>Steps merged into one note; 1 when all steps are played.</summary>
    public int ThinningIn(int barInRun) => _thinning[barInRun];

    /// <summary>The onsets of a bar, from its bar line.</summary>
    public IReadOnlyList<Span> OnsetsIn(int barInRun) => _onsets[barInRun];

    /// <summary>Number of notes of the run before that bar.</summary>
    public int NotesBefore(int barInRun) => _firstNote[barInRun];

    /// <summary>The roll's step in a meter, before any thinning.</summary>
    public static Span StepOf(BarMeter meter)
    {
        var step = meter.Unit;
        while (step > Sixteenth)
        {
            step /= 2;
        }

        return step;
    }

    private static int Thinning(BarPlace place, Rational limit, int? before)
    {
        var step = place.Tempo.Seconds(StepOf(place.Meter));
        if (before is { } kept
            && step * kept >= limit * (1 - Slack)
            && (kept == 1 || step * kept / 2 < limit * (1 + Slack)))
        {
            return kept;
        }

        var thinning = 1;
        while (step * thinning < limit && thinning < 64)
        {
            thinning *= 2;
        }

        return thinning;
    }

    // Off-beats are the half units (where there are none, what is between the units, or else inside the groups); a thin roll leaves out every
    // other note of its groups.
    private static Span[] Asked(Span[] onsets, BarMeter meter, PartTask task)
    {
        switch (task)
        {
            case PartTask.OffBeats:
                var between = onsets.Where(onset => !(onset / meter.Unit).IsInteger).ToArray();
                Span[] halves = [.. between.Where(onset => (onset / (meter.Unit / 2)).IsInteger)];
                Span[] inside = [.. onsets.Where(onset => !meter.GroupStartUnits.Contains((int)(onset / meter.Unit).Floor()))];
                return halves.Length > 0 ? halves : between.Length > 0 ? between : inside.Length > 0 ? inside : onsets.Length > 1 ? onsets[1..] : onsets;
            case PartTask.Thin:
                return [.. Enumerable.Range(0, meter.GroupSizes.Count).SelectMany(group =>
                {
                    var from = meter.Unit * meter.GroupStartUnits[group];
                    var to = from + (meter.Unit * meter.GroupSizes[group]);
                    return onsets.Where(onset => onset >= from && onset < to).Where((_, i) => i % 2 == 0);
                })];
            default:
                return onsets;
        }
    }

    // More than two notes in a swung unit would gallop, long long short short: it has a long and a short one, or three even ones.
    private static Span[] Swung(Span[] onsets, BarPlace place, Rational ratio, Rational limit)
    {
        var swing = Swing.Of(ratio, place.Meter, place.Tempo);
        var unit = place.Meter.Unit;
        if (swing.IsStraight)
        {
            return onsets;
        }

        if (onsets.Length <= 2 * place.Meter.Units)
        {
            return onsets;
        }

        var even = swing.Ratio >= LeastTriplet && swing.Ratio <= MostTriplet && place.Tempo.Seconds(unit) / 3 >= limit;
        return [.. onsets.Where(onset =>
        {
            var units = onset / unit;
            var inside = units - new Rational(units.Floor(), 1);
            return inside == Rational.Zero || inside == new Rational(1, 2) || (even && inside == new Rational(1, 4));
        })];
    }

    private static Span[] Onsets(BarMeter meter, int thinning, (Span Step, Tempo Tempo, Rational Limit) hand)
    {
        var onsets = new List<Span>();
        var perUnit = (int)(meter.Unit / hand.Step).Numerator;
        for (var group = 0; group < meter.GroupSizes.Count; group++)
        {
            var start = meter.Unit * meter.GroupStartUnits[group];
            var steps = meter.GroupSizes[group] * perUnit;
            var at = 0;
            while (at < steps)
            {
                onsets.Add(start + (hand.Step * at));
                var left = steps - at - thinning;
                // The remainder becomes a short note if the hand can just play it; otherwise the last note is longer.
                at += left > 0 && left < thinning && hand.Tempo.Seconds(hand.Step * left) < hand.Limit * (1 - Slack)
                    ? steps - at
                    : thinning;
            }
        }

        return [.. onsets];
    }
}
