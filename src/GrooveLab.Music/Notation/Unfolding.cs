using GrooveLab.Music.Time;

namespace GrooveLab.Music.Notation;

/// <summary>A measure in playing order.</summary>
/// <param name="Measure">Its index in the grid.</param>
/// <param name="Pass">Which time through its repeat, from 1; after a jump back the last, unless the repeat is taken again.</param>
/// <param name="Heard">How often the measure has been played so far, including this time.</param>
public readonly record struct PlayedMeasure(int Measure, int Pass, int Heard)
{
    /// <summary>The verse to sing: the larger of the pass and the number of times the measure was played.</summary>
    public int Verse => Math.Max(Pass, Heard);
}

/// <summary>Why repeats, endings and jumps cannot be followed.</summary>
public enum UnfoldProblem
{
    /// <summary>A pass has no ending: for example a first and a third, but no second.</summary>
    EndingMissing,

    /// <summary>Two endings of one repeat name the same pass.</summary>
    EndingTwice,

    /// <summary>The bracket of an ending has no start or no end.</summary>
    EndingOpen,

    /// <summary>A dal segno has no segno.</summary>
    SegnoMissing,

    /// <summary>A jump to the coda has no coda.</summary>
    CodaMissing,

    /// <summary>The target is ambiguous: several unnamed segnos or codas.</summary>
    TargetUnclear,

    /// <summary>A "to coda" or a fine without a jump back before it.</summary>
    JumpMissing,

    /// <summary>A repeat sign is inside a measure; divide the measure there.</summary>
    RepeatInsideMeasure,

    /// <summary>The playing order exceeds the maximum number of measures.</summary>
    TooLong,
}

/// <summary>Repeats, endings and jumps are contradictory or endless.</summary>
/// <param name="problem">What is wrong.</param>
/// <param name="measure">The index of the measure where it appears.</param>
/// <param name="message">The message.</param>
public sealed class UnfoldException(UnfoldProblem problem, int measure, string message) : Exception(message)
{
    /// <summary>What is wrong.</summary>
    public UnfoldProblem Problem { get; } = problem;

    /// <summary>The index of the measure where it appears.</summary>
    public int Measure { get; } = measure;
}

/// <summary>Puts measures into playing order, following repeats, endings and jumps.</summary>
/// <remarks>Common practice, no source: a repeat end without a start goes back to the end of the repeat before, or to the beginning; a
/// repeat is played twice unless it or its endings say otherwise; after a jump back repeats are not taken and the last ending is played,
/// unless the repeat says "after jump"; a jump is followed once, in the last pass of a repeat around it unless it names its passes; "to
/// coda" and "fine" apply only after a jump.</remarks>
public static class Unfolding
{
    /// <summary>Default maximum number of measures in the playing order.</summary>
    public const int MostMeasures = 100_000;

    /// <summary>The playing order.</summary>
    /// <param name="measures">The grid.</param>
    /// <param name="most">The maximum number of measures in it.</param>
    /// <exception cref="UnfoldException">The signs are contradictory, or the order has too many measures.</exception>
    public static IReadOnlyList<PlayedMeasure> Order(IReadOnlyList<Measure> measures, int most = MostMeasures) =>
        new Walk(measures, most).Go();

    private sealed record Ending(int First, int Last, HashSet<int> Numbers, int Group);

    private sealed class Signs
    {
        public bool Forward { get; set; }

        public RepeatMark? Backward { get; set; }

        public List<JumpMark> Jumps { get; } = [];
    }

    private sealed class Walk
    {
        private readonly IReadOnlyList<Measure> _measures;
        private readonly int _most;
        private readonly Signs[] _signs;
        private readonly Ending?[] _endings;
        private readonly List<List<Ending>> _groups = [];
        private readonly List<(JumpMark Mark, int Measure)> _targets = [];
        private readonly int[] _heard;
        private readonly List<PlayedMeasure> _order = [];
        private WrittenMeter? _meter;
        private readonly HashSet<JumpMark> _followed = new(ReferenceEqualityComparer.Instance);
        private bool _jumped;

        public Walk(IReadOnlyList<Measure> measures, int most)
        {
            _measures = measures;
            _most = most;
            _heard = new int[measures.Count];
            _endings = new Ending?[measures.Count];
            _signs = [.. measures.Select((measure, index) => Read(measure, index))];
            ReadEndings();
            CheckJumps();
        }

        public IReadOnlyList<PlayedMeasure> Go()
        {
            var start = 0;
            var pass = 1;
            var at = 0;
            while (at < _measures.Count)
            {
                var signs = _signs[at];
                if (signs.Forward && start != at)
                {
                    (start, pass) = (at, FirstPass(at));
                }

                if (_endings[at] is { } ending && ending.First == at && !ending.Numbers.Contains(pass))
                {
                    CheckEnding(ending, pass);
                    at = ending.Last + 1;
                    if (IsLastOf(ending))
                    {
                        (start, pass) = (at, FirstPass(at));
                    }

                    continue;
                }

                if (_order.Count >= _most)
                {
                    throw new UnfoldException(UnfoldProblem.TooLong, at, $"The playing order has more than {_most} measures.");
                }

                _order.Add(new PlayedMeasure(at, pass, ++_heard[at]));
                if (signs.Backward is { } back && pass < Passes(at, back) && (!_jumped || back.AfterJump == true))
                {
                    (at, pass) = (start, pass + 1);
                    continue;
                }

                var jump = Jump(at, pass);
                if (jump is { Kind: JumpKind.Fine })
                {
                    break;
                }

                if (jump is { Kind: JumpKind.ToCoda })
                {
                    at = Target(jump, JumpKind.Coda, at);
                    (start, pass) = (at, FirstPass(at));
                    continue;
                }

                if (jump is not null)
                {
                    at = jump.Kind == JumpKind.DaCapo ? 0 : Target(jump, JumpKind.Segno, at);
                    _jumped = true;
                    _followed.Add(jump);
                    start = StartOf(at);
                    pass = FirstPass(start);
                    continue;
                }

                if (signs.Backward is not null || (_endings[at] is { } last && last.Last == at && IsLastOf(last)))
                {
                    (start, pass) = (at + 1, FirstPass(at + 1));
                }

                at++;
            }

            return _order;
        }

        private Signs Read(Measure measure, int index)
        {
            var signs = new Signs();
            _meter = measure.Meter ?? _meter;
            var length = measure.ActualLength ?? _meter?.Length;
            foreach (var mark in measure.Marks)
            {
                switch (mark)
                {
                    case RepeatMark { Side: BarlineSide.Middle }:
                    case RepeatMark { Side: BarlineSide.Left, IsForward: false }:
                    case RepeatMark { Side: BarlineSide.Right, IsForward: true }:
                        throw new UnfoldException(
                            UnfoldProblem.RepeatInsideMeasure,
                            index,
                            $"A repeat sign is on the wrong side of measure {measure.Number}, or inside it.");
                    case RepeatMark { IsForward: true }:
                        signs.Forward = true;
                        break;
                    case RepeatMark back:
                        signs.Backward ??= back;
                        break;
                    case JumpMark { Kind: JumpKind.ForwardRepeat }:
                        signs.Forward = true;
                        break;
                    case JumpMark { Kind: JumpKind.Segno or JumpKind.Coda } target:
                        // A sign at the end belongs to the measure after it.
                        var atEnd = target.At > Span.Zero && target.At >= length;
                        _targets.Add((target, atEnd ? index + 1 : index));
                        break;
                    case JumpMark { Sounds: true } jump:
                        signs.Jumps.Add(jump);
                        break;
                }
            }

            return signs;
        }

        private void ReadEndings()
        {
            Ending? open = null;
            var openAt = 0;
            for (var i = 0; i < _measures.Count; i++)
            {
                var marks = _measures[i].Marks.OfType<EndingMark>().Where(mark => mark.Numbers.Count > 0).ToList();
                if (marks.FirstOrDefault(mark => mark.Edge == EndingEdge.Start) is { } begins)
                {
                    if (open is not null)
                    {
                        throw Fault(UnfoldProblem.EndingOpen, openAt, "The bracket of the ending has no end.");
                    }

                    open = new Ending(i, i, [.. begins.Numbers], 0);
                    openAt = i;
                }

                if (marks.Exists(mark => mark.Edge != EndingEdge.Start))
                {
                    if (open is null)
                    {
                        throw Fault(UnfoldProblem.EndingOpen, i, "The bracket of an ending ends here but has no start.");
                    }

                    Close(open, i);
                    open = null;
                }
            }

            if (open is not null)
            {
                throw Fault(UnfoldProblem.EndingOpen, openAt, "The bracket of the ending has no end.");
            }
        }

        // Adjacent brackets, with a repeat at the end of the first, belong to one repeat.
        private void Close(Ending open, int last)
        {
            var previous = open.First > 0 ? _endings[open.First - 1] : null;
            var joins = previous is not null && _signs[previous.Last].Backward is not null;
            if (!joins)
            {
                _groups.Add([]);
            }

            var ending = open with { Last = last, Group = _groups.Count - 1 };
            var group = _groups[^1];
            if (group.Exists(other => other.Numbers.Overlaps(ending.Numbers)))
            {
                throw Fault(UnfoldProblem.EndingTwice, ending.First, "Two endings of one repeat name the same pass.");
            }

            group.Add(ending);
            for (var i = ending.First; i <= last; i++)
            {
                _endings[i] = ending;
            }
        }

        private void CheckJumps()
        {
            var back = _signs.Any(signs => signs.Jumps.Exists(jump => jump.Kind is JumpKind.DaCapo or JumpKind.DalSegno));
            for (var i = 0; i < _signs.Length; i++)
            {
                foreach (var jump in _signs[i].Jumps)
                {
                    if (!back && (jump.Kind == JumpKind.ToCoda || (jump.Kind == JumpKind.Fine && i < _signs.Length - 1)))
                    {
                        throw Fault(UnfoldProblem.JumpMissing, i, "No da capo or dal segno leads back to here.");
                    }
                }
            }
        }

        // How often a repeat is played: as it or its endings say, otherwise twice.
        private int Passes(int at, RepeatMark back)
        {
            if (_endings[at] is not { } ending)
            {
                return back.Times ?? 2;
            }

            var group = _groups[ending.Group];
            var most = group.Max(one => one.Numbers.Max());

            // A first ending without a bracket over the second: the music after it is the ending of the last pass.
            return group.Count == 1 ? Math.Max(most + 1, back.Times ?? 0) : most;
        }

        // Repeats are not taken after a jump: it counts as the last time through.
        private int FirstPass(int start)
        {
            if (!_jumped)
            {
                return 1;
            }

            for (var i = start; i < _measures.Count; i++)
            {
                if (i > start && _signs[i].Forward)
                {
                    break;
                }

                if (_signs[i].Backward is { } back)
                {
                    return back.AfterJump == true ? 1 : Math.Max(1, Passes(i, back));
                }
            }

            return 1;
        }

        // The start of the repeat into which a jump leads.
        private int StartOf(int at)
        {
            for (var i = at; i > 0; i--)
            {
                if (_signs[i].Forward || (_signs[i - 1].Backward is not null && _endings[i] is null))
                {
                    return i;
                }
            }

            return 0;
        }

        private bool IsLastOf(Ending ending) => ReferenceEquals(_groups[ending.Group][^1], ending);

        private void CheckEnding(Ending ending, int pass)
        {
            var group = _groups[ending.Group];
            if (IsLastOf(ending)
                && !group.Exists(one => one.Numbers.Contains(pass))
                && pass < group.Max(one => one.Numbers.Max()))
            {
                throw Fault(UnfoldProblem.EndingMissing, ending.First, $"There is no ending for pass {pass}.");
            }
        }

        private JumpMark? Jump(int at, int pass)
        {
            foreach (var jump in _signs[at].Jumps)
            {
                var inPass = jump.Passes.Count == 0 ? !IsRepeatedAfter(at, pass) : jump.Passes.Contains(pass);
                var holds = jump.Kind is JumpKind.DaCapo or JumpKind.DalSegno ? !_followed.Contains(jump) : _jumped;
                if (inPass && holds)
                {
                    return jump;
                }
            }

            return null;
        }

        private bool IsRepeatedAfter(int at, int pass)
        {
            for (var i = at; i < _signs.Length && (i == at || !_signs[i].Forward); i++)
            {
                if (_signs[i].Backward is { } back)
                {
                    var within = _endings[i] is not { } ending || ending.First > at || ReferenceEquals(_endings[at], ending);
                    return within && pass < Passes(i, back) && (!_jumped || back.AfterJump == true);
                }
            }

            return false;
        }

        private int Target(JumpMark jump, JumpKind kind, int at)
        {
            var all = _targets.Where(target => target.Mark.Kind == kind).ToList();
            var named = all.Where(target => target.Mark.Name is not null && target.Mark.Name == jump.Name).ToList();
            var places = (named.Count > 0 ? named : all).Select(target => target.Measure).Distinct().ToList();
            return places.Count switch
            {
                1 when places[0] < _measures.Count => places[0],
                0 or 1 => throw (kind == JumpKind.Coda
                    ? Fault(UnfoldProblem.CodaMissing, at, "There is no coda to go to.")
                    : Fault(UnfoldProblem.SegnoMissing, at, "There is no segno to go back to.")),
                _ => throw Fault(UnfoldProblem.TargetUnclear, at, "Several signs match; name them."),
            };
        }

        private UnfoldException Fault(UnfoldProblem problem, int measure, string what) =>
            new(problem, measure, $"Measure {_measures[measure].Number}: {what}");
    }
}
