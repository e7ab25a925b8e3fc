using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>A chord of a run and where it holds, from the run's first bar line. A chord that goes on over a bar line is one stretch.</summary>
/// <param name="Onset">Where it starts.</param>
/// <param name="Length">How long it holds.</param>
/// <param name="Symbol">The chord.</param>
internal readonly record struct ChordStretch(Span Onset, Span Length, ChordSymbol Symbol)
{
    public Span End => Onset + Length;
}

/// <summary>A note that a line has decided on before anyone has played it, placed from the run's first bar line.</summary>
internal readonly record struct LineNote(Span Onset, Span Length, int Key, int Velocity)
{
    public Span End => Onset + Length;
}

/// <summary>What is known of one playing of a section before its bars are written: its places and its chords.</summary>
internal sealed class RunOutline
{
    private readonly Span[] _onsets;

    public RunOutline(FormPlan plan, SectionRun run)
    {
        Run = run;
        Places = new BarPlace[run.Bars];
        _onsets = new Span[run.Bars];
        for (var i = 0; i < run.Bars; i++)
        {
            Places[i] = plan.BarAt(run.FirstBar + i);
            _onsets[i] = Places[i].Start - run.Start;
        }

        Length = Places[^1].End - run.Start;
        Chords = Stretches();
        var next = plan.RunAfter(run);
        Next = next;
        NextChord = next.Section.Bars[0].Chords[0].Symbol;
    }

    public SectionRun Run { get; }

    public BarPlace[] Places { get; }

    public Span Length { get; }

    public IReadOnlyList<ChordStretch> Chords { get; }

    public SectionRun Next { get; }

    public ChordSymbol NextChord { get; }

    /// <summary>The bar line of a bar of the run, from the run's start.</summary>
    public Span OnsetOf(int barInRun) => _onsets[barInRun];

    /// <summary>The index of the chord that holds at a place.</summary>
    public int ChordIndexAt(Span at)
    {
        var low = 0;
        var high = Chords.Count - 1;
        while (low < high)
        {
            var middle = (low + high + 1) / 2;
            if (Chords[middle].Onset <= at)
            {
                low = middle;
            }
            else
            {
                high = middle - 1;
            }
        }

        return low;
    }

    private List<ChordStretch> Stretches()
    {
        var stretches = new List<ChordStretch>();
        for (var i = 0; i < Places.Length; i++)
        {
            foreach (var chord in Places[i].Chords)
            {
                if (stretches.Count > 0 && stretches[^1].Symbol.Equals(chord.Symbol))
                {
                    stretches[^1] = stretches[^1] with { Length = stretches[^1].Length + chord.Length };
                }
                else
                {
                    stretches.Add(new ChordStretch(_onsets[i] + chord.Onset, chord.Length, chord.Symbol));
                }
            }
        }

        return stretches;
    }
}
