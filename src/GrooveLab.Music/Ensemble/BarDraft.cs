using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>A bar being written: its place, and its notes so far.</summary>
internal sealed class BarDraft(BarPlace place, RunBand band, HumanFeel feel)
{
    private readonly Swing _swing = Swing.Of(band.Swing, place.Meter, place.Tempo);
    private readonly GroupTiming _groups = GroupTiming.Of(band.GroupRatio, place.Meter);
    private readonly BarFeel _feel = feel.In(place.Index, band.Parts.Count);
    private readonly List<NoteEvent> _notes = [];
    private readonly List<ControlPoint> _controls = [];
    private readonly List<string> _remarks = [];

    // The next stop of the band in this run; no earlier note sounds across it.
    private readonly Span? _stop = StopAfter(place, band.Outline);

    private readonly BarTasks? _tasks = place.IndexInRun < band.Outline.Places.Length ? band.Playing.TasksIn(place.IndexInRun) : null;

    public BarPlace Place => place;

    /// <summary>What the arrangement asks of a part in this bar.</summary>
    public PartTask Task(int part) => band.Playing.TaskOf(part, place.IndexInRun);

    public RunBand Band => band;

    /// <summary>The bar line, from the run's first one.</summary>
    public Span BarLine { get; } = place.Start - place.Run.Start;

    public Span End { get; } = place.End - place.Run.Start;

    /// <summary>Velocity steps added to the parts' base velocities, so that all felt levels are equally loud.</summary>
    public int Evenness { get; } = AccentPlan.EvennessOf(place.Meter, place.Felt, place.GroupPlace.Size);


    public IReadOnlyList<string> Remarks => _remarks;

    /// <summary>The swing that moves written places to played places.</summary>
    public Swing Swing => _swing;

    /// <summary>True when a place of the run is in this bar.</summary>
    public bool Holds(Span at) => at >= BarLine && at < End;

    /// <summary>The spelling of a pitch at a place of the bar.</summary>
    public Pitch Spell(int key, Span onset) => Spelling.Of(key, place.Run.Key, place.Chords.ChordAt(onset));

    /// <summary>Adds a note at its place without swing, and applies the swing of the bar and the human feel of its part.
    /// <paramref name="step"/> identifies the stroke in the bar: the notes of one chord share it.</summary>
    public void Add(NoteEvent note, int step)
    {
        if (note.Role is Role.Pulse or Role.Roll or Role.Bass or Role.Sustain && _tasks?.Tasks[note.Part] == PartTask.Rests)
        {
            return;
        }

        var offset = _feel.OffsetMicroseconds(note.Part, note.Role, note.Onset / place.Length, step);
        var wander = note.Role == Role.Count ? 0 : _feel.Wander(note.Part, step);
        var onset = _swing.Played(note.Onset);
        var shift = note.Role == Role.Count ? 0 : _groups.ShiftMicroseconds(onset, place.TempoAt(onset));
        if (_stop is { } stop && note.Role is not (Role.Tune or Role.Count) && note.Onset < stop)
        {
            note = note with
            {
                Length = Span.Min(note.Length, stop - note.Onset),
                Written = note.Written with { Length = Span.Min(note.Written.Length, stop - note.Written.Onset) },
            };
        }

        _notes.Add(note with
        {
            Onset = onset,
            Length = _swing.Played(note.End) - onset,
            OffsetMicroseconds = offset + shift + note.LeanMicroseconds + note.OffsetMicroseconds,
            Velocity = Math.Clamp((note.Role == Role.Count ? note.Velocity : Levelled(note.Velocity, note.Onset / place.Length)) + wander, 1, 127),
        });
    }

    /// <summary>Adds a step of a controller curve, with the human feel and the lean of its note.</summary>
    public void AddControl(int part, Role role, Span onset, int controller, int value, int step, int lean = 0)
    {
        var played = _swing.Played(onset);
        var offset = _feel.OffsetMicroseconds(part, role, onset / place.Length, step) + _groups.ShiftMicroseconds(played, place.TempoAt(played)) + lean;
        _controls.Add(new ControlPoint(part, played, controller, value, offset));
    }

    public void Remark(string text)
    {
        if (!_remarks.Contains(text))
        {
            _remarks.Add(text);
        }
    }

    public IReadOnlyList<NoteEvent> SortedNotes() => Sorted(_notes);

    public IReadOnlyList<ControlPoint> SortedControls() => [.. _controls.OrderBy(point => point.Onset).ThenBy(point => point.Part)];

    // The level of the arrangement. Amplitude follows the square of velocity (SoundFont 2.04, the default modulator of velocity). The
    // ending has that of the last bar.
    private int Levelled(int velocity, Rational inBar)
    {
        var tasks = _tasks ?? band.Playing.TasksIn(band.Outline.Places.Length - 1);
        var at = _tasks is null ? 1 : Math.Clamp(inBar.ToDouble(), 0, 1);
        return (int)Math.Round(velocity * Math.Pow(10, (tasks.Decibels + ((tasks.DecibelsAfter - tasks.Decibels) * at)) / 40));
    }

    private static Span? StopAfter(BarPlace place, RunOutline outline)
    {
        for (var bar = place.IndexInRun + 1; bar < outline.Places.Length; bar++)
        {
            if (outline.Places[bar].Stop is not BandStop.None && !place.Run.Section.StopTime)
            {
                return outline.OnsetOf(bar) - outline.OnsetOf(place.IndexInRun);
            }
        }

        return null;
    }

    public static IReadOnlyList<NoteEvent> Sorted(IEnumerable<NoteEvent> notes) =>
        [.. notes.OrderBy(note => note.Onset).ThenBy(note => note.Part).ThenBy(note => note.SpreadMicroseconds).ThenBy(note => note.Key)];
}
