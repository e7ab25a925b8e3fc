using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;

namespace GrooveLab.Music.Ensemble;

/// <summary>One playing of a section for the writers: what the arrangement asks in each bar, which bars a part plays otherwise than at the
/// first playing, and the chances for either. The skeleton of a part is drawn from <see cref="SectionChance"/>, the same at each playing;
/// what differs is drawn from <see cref="PlayingChance"/>. Pure.</summary>
internal sealed class RunPlaying
{
    /// <summary>The share of a section's bars that a part varies in a later playing. At most half of the bars and at least a fifth, so
    /// that the section stays itself. Common practice, no source.</summary>
    private const double VariedShare = 0.34;

    private readonly BarTasks[] _bars;
    private readonly Chance _section;
    private readonly Chance _playing;
    private readonly bool[][] _varied;
    private readonly EarlierPlayings _earlier;
    private readonly IReadOnlyList<Part> _parts;

    /// <summary>Decides a playing.</summary>
    /// <param name="outline">The bars.</param>
    /// <param name="plan">The arrangement.</param>
    /// <param name="playing">Number of earlier playings of the section, rounds of a loop or vamp included.</param>
    /// <param name="parts">The parts.</param>
    /// <param name="chance">The chance of the piece.</param>
    /// <param name="earlier">The earlier playings.</param>
    public RunPlaying(RunOutline outline, ArrangementPlan plan, int playing, IReadOnlyList<Part> parts, Chance chance, EarlierPlayings earlier)
    {
        Playing = playing;
        _earlier = earlier;
        _parts = parts;
        _bars = [.. outline.Places.Select(place => plan.TasksIn(place, playing))];
        _section = chance.For("section").For(outline.Run.Section.Name);
        _playing = _section.For("playing").At(playing);
        _varied = [.. Enumerable.Range(0, parts.Count).Select(part => VariedBars(outline, part, _ => false, _ => true))];
    }

    /// <summary>Number of earlier playings of the section, rounds of a loop or vamp included: 0 for the first.</summary>
    public int Playing { get; }

    /// <summary>What the arrangement asks in a bar of the run.</summary>
    public BarTasks TasksIn(int barInRun) => _bars[barInRun];

    /// <summary>What the arrangement asks of a part in a bar of the run.</summary>
    public PartTask TaskOf(int part, int barInRun) => _bars[barInRun].Tasks[part];

    /// <summary>True when a part is silent through the whole run.</summary>
    public bool Rests(int part) => _bars.All(bar => bar.Tasks[part] == PartTask.Rests);

    /// <summary>The first earlier playing in which a part had the same task in the same bar; null when the task is new there. A full roll is louder, and
    /// strikes two strings here and there, but has the notes of an ordinary one: where it is new, that one counts.</summary>
    public int? FirstWithTask(int part, int barInRun)
    {
        var task = TaskOf(part, barInRun);
        return _earlier.FirstWith(part, barInRun, task)
            ?? (task == PartTask.Full && _parts[part].Role == Role.Roll ? _earlier.FirstWith(part, barInRun, PartTask.Plays) : null);
    }

    /// <summary>The energy of the section when a part first had its task in a bar of the run.</summary>
    public int EnergyOf(int part, int barInRun) =>
        FirstWithTask(part, barInRun) is { } first ? _earlier.EnergyIn(first, barInRun) : _bars[barInRun].Energy;

    /// <summary>True when a part plays a bar of the run otherwise than when it first had the same task there. Never in a bar in which its task
    /// is new.</summary>
    public bool IsVaried(int part, int barInRun) => _varied[part][barInRun];

    /// <summary>The chance of a part's skeleton: the same at each playing of the section.</summary>
    public Chance SectionChance(int part) => _section.At(part);

    /// <summary>The chance of what a part plays otherwise at this playing.</summary>
    public Chance PlayingChance(int part) => _playing.At(part);

    /// <summary>The chance for a bar: that of the section, or in a varied bar that of the playing.</summary>
    public Chance ChanceIn(int part, int barInRun) => IsVaried(part, barInRun) ? PlayingChance(part) : SectionChance(part);

    /// <summary>The bars of a run that a part varies, so that about a third of those in which its task is not new are other bars.</summary>
    /// <param name="outline">The bars.</param>
    /// <param name="part">The part.</param>
    /// <param name="isOther">True in a bar that comes out otherwise anyway.</param>
    /// <param name="canVary">True in a bar that the part has another way to play.</param>
    public bool[] VariedBars(RunOutline outline, int part, Func<int, bool> isOther, Func<int, bool> canVary)
    {
        var varied = new bool[outline.Places.Length];
        var known = Enumerable.Range(0, varied.Length).Where(bar => FirstWithTask(part, bar) is not null).ToArray();
        if (known.Length == 0)
        {
            return varied;
        }

        var chance = PlayingChance(part).For("varied");
        var count = known.Length == 1
            ? chance.Happens(VariedShare) ? 1 : 0
            : Math.Clamp((int)Math.Round(known.Length * VariedShare), (known.Length + 4) / 5, known.Length / 2);

        // The ends of bar groups vary more readily than their beginnings, the first bar of a section least of all.
        var alike = known.Where(bar => !isOther(bar)).ToArray();
        foreach (var bar in alike
            .OrderByDescending(bar => chance.At(bar).Unit + (outline.Places[bar].GroupPlace.IsLast ? 0.3 : 0) - (bar == 0 ? 0.4 : 0))
            .Where(canVary)
            .Take(Math.Max(0, count - (known.Length - alike.Length))))
        {
            varied[bar] = true;
        }

        return varied;
    }
}
