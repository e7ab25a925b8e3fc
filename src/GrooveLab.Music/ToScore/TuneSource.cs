using GrooveLab.Music.Charts;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.ToScore;

/// <summary>A tuplet in which a tune is written.</summary>
/// <param name="From">Its start, from the section's first bar line.</param>
/// <param name="To">Its end.</param>
/// <param name="Tuplet">The tuplet as written.</param>
/// <param name="Around">The index of the tuplet around it; -1 for none.</param>
internal readonly record struct TuneTuplet(Span From, Span To, Tuplet Tuplet, int Around);

/// <summary>What a line of a chart's tune says beyond its notes: the tuplets in which it is written.</summary>
internal sealed class TuneSource
{
    private TuneSource(TuneVoice voice, List<TuneTuplet> tuplets) => (Voice, Tuplets) = (voice, tuplets);

    public TuneVoice Voice { get; }

    /// <summary>In order of their starts, each after the one around it.</summary>
    public IReadOnlyList<TuneTuplet> Tuplets { get; }

    /// <summary>The index of the first tuplet that begins at or after a place.</summary>
    public int FirstFrom(Span place)
    {
        var (low, high) = (0, Tuplets.Count);
        while (low < high)
        {
            var middle = (low + high) / 2;
            (low, high) = Tuplets[middle].From < place ? (middle + 1, high) : (low, middle);
        }

        return low;
    }

    public static TuneSource Of(Tune tune, int line)
    {
        var written = tune.Written;
        var tuplets = new List<TuneTuplet>();
        var start = written.Measures.Count > 0 && written.Measures[0].IsUncounted ? -(written.LengthOf(0) ?? Span.Zero) : Span.Zero;
        for (var m = 0; m < written.Measures.Count; m++)
        {
            var known = new Dictionary<int, int>();
            foreach (var voice in written.Parts[line].Measures[m].Voices)
            {
                var at = start;
                foreach (var one in voice.Events)
                {
                    var around = -1;
                    foreach (var tuplet in one.Value?.Tuplets ?? [])
                    {
                        if (known.TryGetValue(tuplet.Id, out var index))
                        {
                            tuplets[index] = tuplets[index] with { To = at + one.Length };
                        }
                        else
                        {
                            known.Add(tuplet.Id, index = tuplets.Count);
                            tuplets.Add(new TuneTuplet(at, at + one.Length, tuplet, around));
                        }

                        around = index;
                    }

                    at += one.Length;
                }
            }

            start += written.LengthOf(m) ?? Span.Zero;
        }

        return new TuneSource(tune.Voice(line)!, tuplets);
    }
}
