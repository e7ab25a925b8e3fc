using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Tests.Ensemble;

/// <summary>A note on the timeline of the whole piece.</summary>
internal readonly record struct Sounded(Bar Bar, NoteEvent Note, Position From, Position To);

/// <summary>A chart played from lead-in to ending, bar after bar.</summary>
internal sealed class Played
{
    public Played(Chart chart, ComposerOptions? options = null)
    {
        Composer = new BarComposer(chart, options);
        Bars = [.. Enumerable.Range(Composer.First, Composer.End!.Value - Composer.First).Select(Composer.BarAt)];
        Notes = [.. Bars.SelectMany(bar => bar.Notes.Select(note =>
            new Sounded(bar, note, bar.Start + note.Onset, bar.Start + (note.IsGrace ? note.Onset : note.End))))];
    }

    public BarComposer Composer { get; }

    public IReadOnlyList<Bar> Bars { get; }

    public IReadOnlyList<Sounded> Notes { get; }

    /// <summary>The bars without lead-in and ending.</summary>
    public IEnumerable<Bar> Form => Bars.Where(bar => bar.Index >= 0 && !bar.IsEnding);

    public FormPlan Plan => Composer.Plan;

    public Part PartOf(NoteEvent note) => note.Part < Composer.Chart.Parts.Count
        ? Composer.Chart.Parts[note.Part]
        : throw new InvalidOperationException("The note belongs to no part of the chart.");

    public IEnumerable<Sounded> Of(Role role) => Notes.Where(sounded => sounded.Note.Role == role);

    /// <summary>Pairs of notes of different parts that overlap in time.</summary>
    public IEnumerable<(Sounded A, Sounded B)> Together(params Role[] roles)
    {
        var active = new List<Sounded>();
        foreach (var next in Notes.Where(sounded => roles.Contains(sounded.Note.Role) && !sounded.Note.IsGrace)
            .OrderBy(sounded => sounded.From))
        {
            active.RemoveAll(sounded => sounded.To <= next.From);
            foreach (var other in active)
            {
                if (other.Note.Part != next.Note.Part)
                {
                    yield return (other, next);
                }
            }

            active.Add(next);
        }
    }
}
