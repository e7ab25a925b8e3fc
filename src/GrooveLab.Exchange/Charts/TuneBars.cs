using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Charts;

/// <summary>What sounds or rests without a break in one bar of a tune: a note, a part of one that is tied over the bar line, or a rest.</summary>
/// <param name="Onset">From the bar line; in the pickup from its beginning.</param>
/// <param name="Length">How long, up to the bar line at most.</param>
/// <param name="Pitch">What sounds; null for a rest.</param>
/// <param name="Graces">Grace notes before it.</param>
/// <param name="Tied">True when it goes on in the next bar.</param>
internal sealed record TuneStretch(Span Onset, Span Length, Pitch? Pitch, IReadOnlyList<Pitch> Graces, bool Tied)
{
    /// <summary>Where it ends, from the bar line.</summary>
    public Span End => Onset + Length;

    /// <summary>Whether another one stands at the same time, whatever sounds.</summary>
    public bool IsAtTimeOf(TuneStretch other) => Onset == other.Onset && Length == other.Length && Pitch is null == other.Pitch is null;

    /// <summary>Whether another one says the same.</summary>
    public bool Says(TuneStretch other) => IsAtTimeOf(other) && Pitch == other.Pitch && Tied == other.Tied && Graces.SequenceEqual(other.Graces);

    /// <summary>Whether two bars say the same.</summary>
    public static bool SayTheSame(IReadOnlyList<TuneStretch> a, IReadOnlyList<TuneStretch> b) =>
        a.Count == b.Count && a.Zip(b).All(pair => pair.First.Says(pair.Second));

    /// <summary>Whether two bars have the same times.</summary>
    public static bool HaveTheSameTimes(IReadOnlyList<TuneStretch> a, IReadOnlyList<TuneStretch> b) =>
        a.Count == b.Count && a.Zip(b).All(pair => pair.First.IsAtTimeOf(pair.Second));
}

/// <summary>A tune cut at its bar lines.</summary>
/// <param name="Pickup">What comes before the first bar line; empty without a pickup.</param>
/// <param name="Bars">What is in each bar.</param>
internal sealed record TuneBars(IReadOnlyList<TuneStretch> Pickup, IReadOnlyList<IReadOnlyList<TuneStretch>> Bars)
{
    /// <summary>Cuts a tune.</summary>
    /// <param name="tune">The tune.</param>
    /// <param name="pickup">How long before the first bar line the pickup starts, at least the tune's own.</param>
    /// <param name="meters">The meters of the section's bars.</param>
    /// <param name="section">The section's name, for what is wrong.</param>
    /// <exception cref="ChartProblemException">The tune goes on after its section.</exception>
    public static TuneBars Cut(Tune tune, Span pickup, IEnumerable<BarMeter> meters, string section)
    {
        var next = 0;
        var lead = Stretch(tune, -pickup, Span.Zero, ref next);
        var bars = new List<IReadOnlyList<TuneStretch>>();
        var at = Span.Zero;
        foreach (var meter in meters)
        {
            bars.Add(Stretch(tune, at, at + meter.Length, ref next));
            at += meter.Length;
        }

        return next < tune.Notes.Count || (tune.Notes.Count > 0 && tune.Notes[^1].Onset + tune.Notes[^1].Length > at)
            ? throw new ChartProblemException("the tune goes on after its section; shorten it or give the section more bars", section, null)
            : new TuneBars(lead, bars);
    }

    /// <summary>What sounds and rests in the pickup.</summary>
    /// <param name="tune">The tune.</param>
    /// <param name="pickup">How long before the first bar line it starts, at least the tune's own.</param>
    public static IReadOnlyList<TuneStretch> Lead(Tune tune, Span pickup)
    {
        var next = 0;
        return Stretch(tune, -pickup, Span.Zero, ref next);
    }

    private static List<TuneStretch> Stretch(Tune tune, Span from, Span to, ref int next)
    {
        var stretches = new List<TuneStretch>();
        var at = from;
        while (at < to)
        {
            var note = next < tune.Notes.Count ? tune.Notes[next] : null;
            if (note is null || note.Onset > at)
            {
                var end = note is null ? to : Span.Min(note.Onset, to);
                stretches.Add(new TuneStretch(at - from, end - at, null, [], Tied: false));
                at = end;
                continue;
            }

            var tied = note.Onset + note.Length > to;
            var until = tied ? to : note.Onset + note.Length;
            stretches.Add(new TuneStretch(at - from, until - at, note.Pitch, note.Onset == at ? note.Graces : [], tied));
            at = until;
            next += tied ? 0 : 1;
        }

        return stretches;
    }
}
