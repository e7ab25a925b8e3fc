using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>A note planned by a line, before performance, placed from the run's first bar line.</summary>
internal readonly record struct LineNote(Span Onset, Span Length, int Key, int Velocity)
{
    public Span End => Onset + Length;
}

/// <summary>The outline of one playing of a section, before its bars are written: its places and chords.</summary>
internal sealed class RunOutline
{
    private readonly Span[] _onsets;
    private readonly SectionRun? _before;

    public RunOutline(FormPlan plan, SectionRun run)
    {
        Run = run;
        _before = run.FirstBar > 0 ? plan.BarAt(run.FirstBar - 1).Run : null;
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

    /// <summary>The chords, placed from the run's first bar line; a chord across a bar line is one span.</summary>
    public IReadOnlyList<ChordSpan> Chords { get; }

    public SectionRun Next { get; }

    public ChordSymbol NextChord { get; }

    /// <summary>The time from the last note of a line in the run before to the start of this run; null for none.</summary>
    public Span? SinceLastNote(int line) =>
        _before?.Section.Tune?.Voice(line)?.Notes is [.., var last] ? Run.Start - _before.Start - last.Onset : null;

    /// <summary>The bar line of a bar of the run, from the run's start.</summary>
    public Span OnsetOf(int barInRun) => _onsets[barInRun];

    /// <summary>The bar of the run in which a place lies: the last one whose bar line is there or before; 0 before the first.</summary>
    public int BarAt(Span at)
    {
        var found = Array.BinarySearch(_onsets, at);
        return Math.Max(0, found >= 0 ? found : ~found - 1);
    }

    /// <summary>The number of group starts in the run up to a place, itself included.</summary>
    public int GroupStartsUpTo(Span at)
    {
        var last = BarAt(at);
        var starts = 0;
        for (var bar = 0; bar < last; bar++)
        {
            starts += Places[bar].Meter.GroupStartUnits.Count;
        }

        return starts + Places[last].Meter.GroupStartUnits.Count(unit => _onsets[last] + (Places[last].Meter.Unit * unit) <= at);
    }

    /// <summary>The tempo at a place of the run.</summary>
    public Tempo TempoAt(Span at)
    {
        var bar = BarAt(at);
        return Places[bar].TempoAt(at - _onsets[bar]);
    }

    /// <summary>Has the band strike and rest in some bars, where it does not stop anyway.</summary>
    public void Break(Func<int, bool> breaks)
    {
        for (var bar = 0; bar < Places.Length; bar++)
        {
            if (Places[bar].Stop == BandStop.None && breaks(bar))
            {
                Places[bar] = Places[bar] with { Stop = BandStop.Strike };
            }
        }
    }

    /// <summary>The spelling of a pitch at a place of the run.</summary>
    public Pitch Spell(int key, Span at, Pitch? next = null) => Spelling.Of(key, Run.Key, Chords.ChordAt(at), next);

    private List<ChordSpan> Stretches()
    {
        var stretches = new List<ChordSpan>();
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
                    stretches.Add(new ChordSpan(_onsets[i] + chord.Onset, chord.Length, chord.Symbol));
                }
            }
        }

        return stretches;
    }
}
