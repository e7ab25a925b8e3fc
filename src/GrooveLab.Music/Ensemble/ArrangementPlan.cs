using System.Collections.Concurrent;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;

namespace GrooveLab.Music.Ensemble;

/// <summary>The plan of an arrangement over the form: how much energy each playing of each section has, who rests, thins, fills and leads
/// on, where the band rises or breaks off. Made from the chart's sections, form and band, from the end where it is known, and from the
/// random seed. Pure: it may be asked in any order and on any thread.</summary>
/// <remarks>Common practice, no source. What a chart says of its sections comes before what is chosen here.</remarks>
public sealed class ArrangementPlan
{
    /// <summary>The level of each energy in decibels above the band by itself. Of the lower energies the fewer notes alone make up to two
    /// decibels, and some of that is given back; the fullest has more notes than the one below. Steps of less than 1.5 dB between sections
    /// are not noticed, of more than 4 they tear the song apart. Common practice, no source.</summary>
    private static readonly double[] Levels = [0.8, 0.8, 0, 2.7, 2.7];

    // A bridge, which is different in kind: its register is heard before its notes are missed.
    private const double LevelOfBridge = -0.3;

    // Each of the sections with which a song opens is softer than the one before by this, since more play.
    private const double SofterEntry = 0.5;

    // Between the two highest energies, in which all play: after the lower the fuller is this much louder; another section after the fuller
    // that much softer.
    private const double Apart = 1.2;

    // How far the last bars of a section rise into a fuller one, in decibels: to the level of that one, and not much less where they are
    // near.
    private const double Rise = 2.7;
    private const double LeastRise = 2.2;

    // How far the last bars of a quiet piece settle into its end.
    private const double Settling = -1.5;

    // The last round is louder than the first by this, whatever it has more of; those between are in between. Less than what tells a refrain
    // from the verse after it; more where a round opens with a section played twice, of which the first is no louder yet.
    private const double LastRoundLouder = 0.5, LastRoundLouderOfPairs = 1.2;

    // Bars over which a section rises, and the part of the rise that is done after the first of them: a rise that comes late is not noticed,
    // and one that goes far spoils the entrance that it leads to.
    private const int RisingBars = 2;
    private const double RisesFirst = 0.85;

    // A section shorter than this does not break off.
    private const int ShortestWithBreak = 6;

    // Bar groups of a groove without sections swell and ebb by this.
    private const double Breath = 0.6;

    private readonly IReadOnlyList<Part> _parts;
    private readonly IReadOnlyList<SectionKind> _kinds;
    private readonly SectionRun[] _pass;
    private readonly int[] _occurrences;
    private readonly int[] _rounds;
    private readonly bool[] _opensTwice;
    private readonly int _barsInPass;
    private readonly Chance _chance;
    private readonly BarTasks _none;
    private readonly bool _isOneSection;
    private readonly ConcurrentDictionary<(int Run, int Playing), RunPlan> _made = new();
    private readonly ConcurrentDictionary<int, int[]> _energies = new();

    /// <summary>Makes the plan.</summary>
    /// <param name="form">The form.</param>
    /// <param name="parts">The band.</param>
    /// <param name="bars">The number of bars after which the piece ends; null while no end is known.</param>
    /// <param name="seed">The random seed.</param>
    public ArrangementPlan(FormPlan form, IReadOnlyList<Part> parts, int? bars, ulong seed)
    {
        Form = form;
        Bars = bars;
        _parts = parts;
        _kinds = SectionKinds.Of(form.Chart);
        _barsInPass = form.BarsInPass;
        _pass = [.. form.Runs.Where(run => run.FirstBar < _barsInPass)];
        _occurrences = [.. form.Chart.Sections.Select((_, index) => _pass.Count(run => run.SectionIndex == index))];
        _rounds = RoundsIn(_pass);
        _opensTwice = [.. _pass.Select((run, i) => (i == 0 || _rounds[i] > _rounds[i - 1]) && i + 1 < _pass.Length && _pass[i + 1].SectionIndex == run.SectionIndex)];
        _chance = Chance.From(seed).For("arrangement");
        _none = BarTasks.None(parts.Count);
        _isOneSection = form.Runs.Select(run => run.SectionIndex).Distinct().Count() == 1;
    }

    /// <summary>The form.</summary>
    public FormPlan Form { get; }

    /// <summary>The number of bars after which the piece ends; null while no end is known.</summary>
    public int? Bars { get; }

    /// <summary>True when the chart has an arrangement.</summary>
    public bool IsArranged => Form.Chart.IsArranged;

    /// <summary>The number of rounds of the form that begin before the end; null while no end is known.</summary>
    public int? Rounds => BarsInRounds is { } bars ? Math.Max(1, (bars + _barsInPass - 1) / _barsInPass) : null;

    // Without a tag, which is no round.
    private int? BarsInRounds => Bars is { } bars ? Math.Max(1, HasTagBefore(bars) ? bars - Form.Runs.Skip(_pass.Length).Sum(run => run.Bars) : bars) : null;

    /// <summary>What it asks in a bar.</summary>
    /// <param name="place">The bar.</param>
    /// <param name="playing">Number of earlier playings of its section, rounds of a loop or vamp included.</param>
    public BarTasks TasksIn(BarPlace place, int playing)
    {
        if (!IsArranged)
        {
            return _none;
        }

        var plan = PlanOf(place.Run, playing);
        var run = place.Run;
        var (from, to) = LevelsIn(place, plan);
        var tasks = plan.Tasks.ToArray();
        if (plan.Breaks && place.IsLastOfRun)
        {
            for (var part = 0; part < tasks.Length; part++)
            {
                tasks[part] = IsBand(part) && tasks[part] != PartTask.Rests ? PartTask.Break : tasks[part];
            }
        }
        else if (place.IsLastOfRun)
        {
            foreach (var (part, task) in plan.Fills)
            {
                tasks[part] = task;
            }
        }
        else if (InnerFill(place, playing) is { } filler && tasks[filler] is not PartTask.Rests)
        {
            tasks[filler] = PartTask.Fill;
        }

        return new BarTasks(plan.Energy, tasks, from, to);
    }

    /// <summary>The plan of a run.</summary>
    /// <param name="run">The run.</param>
    /// <param name="playing">Number of earlier playings of its section, rounds of a loop or vamp included.</param>
    public RunPlan PlanOf(SectionRun run, int playing)
    {
        // A long piece has many runs; each is quickly made again.
        if (_made.Count > 4096)
        {
            _made.Clear();
        }

        return _made.GetOrAdd((run.Number, playing), _ => Make(run, playing));
    }

    private RunPlan Make(SectionRun run, int playing)
    {
        var chance = _chance.At(run.SectionIndex).At(playing);
        var kind = _kinds[run.SectionIndex];
        var energy = EnergyOf(run, playing);
        var last = IsLastPlaying(run, playing);
        var next = Follows(run);
        var nextKind = next is null ? (SectionKind?)null : _kinds[next.SectionIndex];
        var nextEnergy = next is null ? 0 : EnergyOf(next, next.Verse);
        var tasks = TasksOf(run, kind, energy, playing);
        var level = LevelOf(run, playing);
        var rises = next is null ? (energy <= 2 || kind == SectionKind.Closing ? Settling : Rise)
            : next.SectionIndex == run.SectionIndex ? 0
            : nextKind == SectionKind.Refrain || kind == SectionKind.Rise || nextEnergy > energy + 1 ? Math.Clamp(LevelOf(next, next.Verse) - level, LeastRise, Rise)
            : 0;
        var breaks = next is not null && nextKind == SectionKind.Refrain && IsLastPlaying(next, next.Verse) && next.SectionIndex != run.SectionIndex
            && next.Verse >= 2 && run.Bars >= ShortestWithBreak && run.Section is { HoldSeconds: 0, BreakBars: 0, StopTime: false, Orders: null };
        return new RunPlan(kind, energy, tasks, FillsOf(run, tasks, playing, next, chance), level, _isOneSection && next is not null ? 0 : rises, breaks, last && IsInLastRound(run));
    }

    private bool IsBand(int part) => _parts[part].Role is Role.Pulse or Role.Roll or Role.Bass or Role.Sustain;

    private static bool Plays(SectionRun run, int part) => run.Section.Playing is not { } playing || playing.Contains(part);

    // The run that follows before the end; null for none.
    private SectionRun? Follows(SectionRun run)
    {
        var next = Form.RunAfter(run);
        return Bars is { } bars && run.EndBar >= bars ? null : next;
    }

    private bool IsInLastRound(SectionRun run) => BarsInRounds is { } inRounds && Bars is { } bars
        && (Rounds > 1 ? run.FirstBar >= inRounds - _barsInPass : run.EndBar >= bars - run.Bars);

    private bool HasTagBefore(int bars) => bars > Form.Bars - 1;

    // The number of playings of a section before the end; null while no end is known.
    private int? PlayingsOf(int section)
    {
        if (Bars is not { } bars || BarsInRounds is not { } inRounds)
        {
            return null;
        }

        var whole = Math.DivRem(inRounds, _barsInPass, out var rest);
        var tagged = HasTagBefore(bars) ? Form.Runs.Skip(_pass.Length).Count(run => run.SectionIndex == section) : 0;
        return (whole * _occurrences[section]) + _pass.Count(run => run.SectionIndex == section && run.FirstBar < rest) + tagged;
    }

    private bool IsLastPlaying(SectionRun run, int playing) => PlayingsOf(run.SectionIndex) is { } all && playing >= all - 1;

    // Level of a run in decibels.
    private double LevelOf(SectionRun run, int playing)
    {
        var energy = EnergyOf(run, playing);
        if (_kinds[run.SectionIndex] == SectionKind.Opening && run.Number < _pass.Length && run.Section.Orders is not { Energies.Count: > 0 })
        {
            // The few who open play as they do in what they lead to.
            var after = _pass.Skip(run.Number).FirstOrDefault(later => _kinds[later.SectionIndex] != SectionKind.Opening);
            var earlier = _pass.Take(run.Number).Reverse().TakeWhile(other => _kinds[other.SectionIndex] == SectionKind.Opening).Count();
            return after is null ? Levels[energy - 1] : Levels[EnergyOf(after, after.Verse) - 1] - (SofterEntry * earlier);
        }

        var before = run.FirstBar == 0 ? run : Form.BarAt(run.FirstBar - 1).Run;
        var apart = (EnergyOf(before, before.Verse), energy) switch
        {
            (BarTasks.Most - 1, BarTasks.Most) => Apart,
            (BarTasks.Most, BarTasks.Most - 1) when before.SectionIndex != run.SectionIndex => -Apart,
            _ => 0,
        };
        var level = _kinds[run.SectionIndex] == SectionKind.Bridge && run.Section.Orders is not { Energies.Count: > 0 } ? LevelOfBridge : Levels[energy - 1];
        return level + apart + RoundLevel(run);
    }

    private double RoundLevel(SectionRun run)
    {
        if (_isOneSection || run.Section.Orders is { Energies.Count: > 0 })
        {
            return 0;
        }

        var inPass = InPass(run.FirstBar);
        var louder = _opensTwice.Contains(true) ? LastRoundLouderOfPairs : LastRoundLouder;
        var round = Math.Max(0, RoundAt(run.FirstBar) - (_opensTwice[inPass] ? 1 : 0));
        if (Bars is { } bars)
        {
            var last = RoundAt(bars - 1);
            return last == 0 ? 0 : louder * Math.Min(round, last) / last;
        }

        // Without an end in sight rounds come and go: no one of them is the last.
        return round == 0 ? 0 : round % 2 == 1 ? louder : louder / 2;
    }

    private int InPass(int bar)
    {
        var inPass = bar % _barsInPass;
        return Array.FindLastIndex(_pass, run => run.FirstBar <= inPass);
    }

    private int RoundAt(int bar) => (bar / _barsInPass * (_rounds[^1] + 1)) + _rounds[InPass(bar)];

    // The round of each run of a pass: a round begins with the first section that comes back after another.
    private static int[] RoundsIn(SectionRun[] pass)
    {
        var starts = pass.Where((run, i) => i == 0 || pass[i - 1].SectionIndex != run.SectionIndex).ToArray();
        var head = starts.FirstOrDefault(run => starts.Count(other => other.SectionIndex == run.SectionIndex) > 1)?.SectionIndex;
        var rounds = new int[pass.Length];
        var begun = 0;
        for (var i = 0; i < pass.Length; i++)
        {
            begun += pass[i].SectionIndex == head && (i == 0 || pass[i - 1].SectionIndex != head) ? 1 : 0;
            rounds[i] = Math.Max(0, begun - 1);
        }

        return rounds;
    }

    private int EnergyOf(SectionRun run, int playing)
    {
        if (run.Section.Orders is { Energies: { Count: > 0 } ordered })
        {
            return ordered[Math.Min(playing, ordered.Count - 1)];
        }

        if (_isOneSection)
        {
            return BarTasks.Usual;
        }

        var inPass = Array.FindIndex(_pass, one => one.Number == run.Number % _pass.Length);
        var lap = run.FirstBar / _barsInPass;
        if (inPass < 0 || run.Number >= _pass.Length * Form.Chart.Times && Form.Chart.Tag.Count > 0)
        {
            return Math.Min(BarTasks.Most, Base(_kinds[run.SectionIndex], 1, true) + (Follows(run) is null && _kinds[run.SectionIndex] != SectionKind.Closing ? 1 : 0));
        }

        return EnergiesOf(KindOfPass(lap))[inPass];
    }

    // First, last, and two kinds between that alternate.
    private int KindOfPass(int lap) => Rounds is { } rounds && rounds > 1 && lap == rounds - 1 ? 3 : lap == 0 ? 0 : 1 + (lap % 2);

    // The energies of the runs of one pass: what each section is for, raised when it comes again, apart from its neighbours.
    private int[] EnergiesOf(int kindOfPass) => _energies.GetOrAdd(kindOfPass, _ =>
    {
        var energies = new int[_pass.Length];
        var played = new Dictionary<int, int>();
        for (var i = 0; i < _pass.Length; i++)
        {
            var section = _pass[i].SectionIndex;
            var kind = _kinds[section];
            var again = played.GetValueOrDefault(section);
            played[section] = again + 1;
            // The fullest comes last: the last refrain, in a song without one its last section.
            var final = (kindOfPass == 3 || Rounds == 1) && (kind == SectionKind.Refrain
                ? !_pass.Skip(i + 1).Any(later => _kinds[later.SectionIndex] == SectionKind.Refrain)
                : i == _pass.Length - 1 && i > 0 && !_pass.Any(run => _kinds[run.SectionIndex] == SectionKind.Refrain));
            var energy = Base(kind, Math.Min(again, 1) + (kindOfPass is 2 or 3 ? 1 : 0), final);
            if (i > 0 && _pass[i - 1].SectionIndex != section && energies[i - 1] == energy && kind != SectionKind.Opening)
            {
                // Neighbours differ: in the direction that the section leans to. Entries differ by who plays.
                var up = final || kind is SectionKind.Refrain or SectionKind.Rise or SectionKind.Instrumental;
                energy = up ? (energy < BarTasks.Most ? energy + 1 : energy) : (energy > BarTasks.Least ? energy - 1 : energy + 1);
            }

            if (final && i > 0 && _pass[i - 1].SectionIndex == section && kind is SectionKind.Instrumental)
            {
                energy = Math.Max(energy, energies[i - 1] + 1);
            }

            energies[i] = Math.Clamp(energy, BarTasks.Least, BarTasks.Most);
        }

        return energies;
    });

    private static int Base(SectionKind kind, int again, bool isFinal) => kind switch
    {
        SectionKind.Opening => 1,
        SectionKind.Verse => isFinal ? 4 : Math.Min(3, 2 + again),
        SectionKind.Rise => 3,
        SectionKind.Refrain => isFinal ? BarTasks.Most : 4,
        SectionKind.Bridge => 2,
        SectionKind.Instrumental => Math.Min(4, 3 + again),
        _ => BarTasks.Usual,
    };

    private PartTask[] TasksOf(SectionRun run, SectionKind kind, int energy, int playing)
    {
        var tasks = new PartTask[_parts.Count];
        var way = _chance.At(run.SectionIndex).For("bridge").Below(2);
        for (var part = 0; part < tasks.Length; part++)
        {
            tasks[part] = !Plays(run, part) ? PartTask.Rests
                : run.Section.Orders?.Tasks.FirstOrDefault(orders => orders.Part == part) is { } orders ? orders.In(playing)
                : !IsBand(part) || _isOneSection ? PartTask.Plays
                : Heard(run, HasOffBeats(run, kind == SectionKind.Bridge ? InBridge(part, way) : AtEnergy(part, energy, playing)));
        }

        return tasks;
    }

    // Where the chart says who plays, all of them do.
    private static PartTask Heard(SectionRun run, PartTask task) => run.Section.Playing is not null && task == PartTask.Rests ? PartTask.Plays : task;

    // Where the units are the fastest notes, nothing lies between them: the roll would strike with the pulse.
    private PartTask HasOffBeats(SectionRun run, PartTask task) =>
        task == PartTask.OffBeats && Form.BarAt(run.FirstBar).Meter is var meter && RollGrid.StepOf(meter) >= meter.Unit ? PartTask.Thin : task;

    // Another register, and fewer of those that drive.
    private PartTask InBridge(int part, int way) => (_parts[part].Role, way) switch
    {
        (Role.Pulse, _) => PartTask.Thin,
        (Role.Roll, 0) => PartTask.High,
        (Role.Roll, _) => PartTask.OffBeats,
        (Role.Bass, 0) => PartTask.Thin,
        (Role.Sustain, 0) => PartTask.Full,
        (Role.Sustain, _) => PartTask.High,
        _ => PartTask.Plays,
    };

    private PartTask AtEnergy(int part, int energy, int playing) => (_parts[part].Role, energy) switch
    {
        (Role.Pulse, <= 2) => PartTask.Thin,
        (Role.Pulse, >= 5) => PartTask.Full,
        (Role.Roll, 1) => PartTask.Rests,
        (Role.Roll, 2) when playing == 0 => PartTask.OffBeats,
        (Role.Roll, 2) => PartTask.Thin,
        (Role.Roll, >= 5) => PartTask.Full,
        (Role.Bass, 1) => PartTask.Thin,
        (Role.Bass, >= 5) => PartTask.Full,
        (Role.Sustain, 1) => PartTask.Rests,
        (Role.Sustain, 2) when playing == 0 && HasAnother(part) => PartTask.Rests,
        (Role.Sustain, <= 3) when energy == 2 => PartTask.Thin,
        (Role.Sustain, >= 5) => PartTask.Full,
        _ => PartTask.Plays,
    };

    // A part rests only where enough others are left to carry the song.
    private bool HasAnother(int part) => Enumerable.Range(0, _parts.Count).Count(other => other != part && IsBand(other)) >= 3;

    private (int Part, PartTask Task)[] FillsOf(SectionRun run, PartTask[] tasks, int playing, SectionRun? next, Chance chance)
    {
        if (run.Section.Orders?.Fill is { } ordered)
        {
            return ordered == SectionOrders.NoFill || ordered >= tasks.Length || !Plays(run, ordered) ? [] : [(ordered, FillOf(ordered))];
        }

        // A bar that is a section has no room for a figure that ends it, and a held bar stands still.
        if (run.Bars < 2 || run.Section is { HoldSeconds: > 0 } or { BreakBars: > 0 } or { StopTime: true })
        {
            return [];
        }

        var able = Enumerable.Range(0, tasks.Length).Where(part => IsBand(part) && tasks[part] != PartTask.Rests).ToArray();
        if (able.Length == 0)
        {
            return [];
        }

        // One part that is heard in it, in turn. A bass has not always room for more than a step: then an upstroke of the pulse says the same.
        // Into a refrain or back to the beginning the bass leads on, too.
        var heard = able.Where(part => IsHeard(run, part, tasks[part], next)).ToArray();
        var among = heard.Length > 0 ? heard : able;
        var first = among[(int)((uint)(playing + chance.For("fill").Below(2)) % among.Length)];
        var second = _parts[first].Role == Role.Bass ? able.Where(part => _parts[part].Settings is PulseSettings pulse && HasTime(run, pulse))
            : next is not null && (_kinds[next.SectionIndex] == SectionKind.Refrain || run.EndBar % _barsInPass == 0) ? able.Where(part => _parts[part].Role == Role.Bass)
            : [];
        return [(first, FillOf(first)), .. second.Take(1).Select(part => (part, PartTask.Pickup))];
    }

    // True for a hand that is fast enough for a stroke between two units.
    private bool HasTime(SectionRun run, PulseSettings pulse)
    {
        var last = Form.BarAt(run.EndBar - 1);
        return pulse.Share == PulseShare.All && PulseStrokes.HasTimeForHalves(last.Meter, last.Tempo);
    }

    // True for a part that has something else to play at the end of a section than it has at the end of any bar group: a hand that is fast
    // enough for twice as many strokes, or that has damped them; a roll that has left notes out; a bass with a chord to lead to. A held voice
    // often has no other note to go to.
    private bool IsHeard(SectionRun run, int part, PartTask task, SectionRun? next)
    {
        var last = Form.BarAt(run.EndBar - 1);
        return _parts[part].Settings switch
        {
            PulseSettings pulse => HasTime(run, pulse) || (pulse is { Share: PulseShare.All, Damped: true } && task == PartTask.Thin),
            RollSettings => task is PartTask.OffBeats or PartTask.Thin,
            BassSettings => next is not null && last.Felt != FeltLevel.BarGroup && !Form.BarAt(next.FirstBar).Chords[0].Symbol.IsNoChord,
            _ => false,
        };
    }

    private PartTask FillOf(int part) => _parts[part].Role is Role.Bass or Role.Sustain ? PartTask.Pickup : PartTask.Fill;

    // Inside a long section one part ends every other bar group with a figure, pulse and roll in turn; in a groove of one section every bar
    // group that answers three alike. What the section itself asks comes first.
    private int? InnerFill(BarPlace place, int playing)
    {
        var group = place.GroupPlace;
        var orders = place.Run.Section.Orders;
        if (!group.IsLast || group.Size < 2 || (group.Group % 2 == 0 && group.Size < 4) || orders?.Fill == SectionOrders.NoFill)
        {
            return null;
        }

        var chance = _chance.At(place.Run.SectionIndex).At(playing).For("inner").At(group.Group);
        if (!chance.Happens(_isOneSection ? 0.6 : 0.4))
        {
            return null;
        }

        var able = Enumerable.Range(0, _parts.Count).Where(part => _parts[part].Role is Role.Pulse or Role.Roll && Plays(place.Run, part)
            && orders?.Tasks.Any(asked => asked.Part == part) != true).ToArray();
        return able.Length == 0 ? null : able[chance.For("who").Below(able.Length)];
    }

    // The level at the bar line and at the end of a bar.
    private (double From, double To) LevelsIn(BarPlace place, RunPlan plan)
    {
        var run = place.Run;
        if (_isOneSection)
        {
            return (BreathAt(place.GroupPlace.Index, place.GroupPlace.Size), BreathAt(place.GroupPlace.Index + 1, place.GroupPlace.Size));
        }

        var rising = Math.Min(RisingBars, run.Bars - 1);
        var into = place.IndexInRun - (run.Bars - rising);
        return plan.Rises == 0 || rising < 1 || into < 0
            ? (plan.Decibels, plan.Decibels)
            : (plan.Decibels + (plan.Rises * Risen(into, rising)), plan.Decibels + (plan.Rises * Risen(into + 1, rising)));
    }

    private static double Risen(int bars, int of) => bars == 0 ? 0 : bars == of ? 1 : RisesFirst;

    // A bar group swells to its middle.
    private static double BreathAt(int bar, int bars) => bars < 2 ? 0 : Breath * (1 - Math.Abs((2.0 * bar / bars) - 1)) - (Breath / 2);
}
