using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>The riff of a roll: a contour that the bars of a bar group share, and that its last bar answers with another. The chords under
/// it give the pitches.</summary>
/// <remarks>Common practice, no source.</remarks>
internal sealed class RollRiff
{
    /// <summary>Candidates tried for a figure before the best one is taken.</summary>
    private const int Tries = 16;

    /// <summary>Least likeness of a varied bar to the one it varies.</summary>
    private const double LeastLike = 0.8;

    /// <summary>Wanted likeness of the last bar of a bar group to the bars before it.</summary>
    private const double AnswerLike = 0.39;

    /// <summary>Wanted likeness of a fill to the last bar of a bar group, and the most to the bars before it.</summary>
    private const double FillLike = 0.7;
    private const double MostAnswering = 0.55;

    /// <summary>Share of the moves of plectrum and hammers that stay on their string and move by step.</summary>
    private const double StayShare = 0.38;

    /// <summary>Share of the weak notes of fingers that move by step.</summary>
    private const double TurnShare = 0.75;

    /// <summary>Bars of a cycle where the chart has no bar groups.</summary>
    private const int UsualGroup = 4;

    private readonly RunOutline _outline;
    private readonly RollGrid _grid;
    private readonly RunPlaying _playing;
    private readonly int _part;
    private readonly bool _fingers;
    private readonly int _top;
    private readonly int _leap;

    // From note to note of the shape; those to the next one are there twice, so that they are the likeliest.
    private readonly int[] _moves;
    private readonly Chance _chance;
    private readonly Func<int, RollStep[]?> _whenNew;

    /// <summary>Makes the riff.</summary>
    /// <param name="outline">The bars and chords.</param>
    /// <param name="grid">The places of the notes.</param>
    /// <param name="playing">The playing.</param>
    /// <param name="part">The part.</param>
    /// <param name="technique">How its instrument is played.</param>
    /// <param name="rungs">The number of notes in its chord shapes.</param>
    /// <param name="crossing">Whether its cells cross bar lines.</param>
    /// <param name="whenNew">The steps of a bar when the part first had the same task there; null where the task is new.</param>
    public RollRiff(RunOutline outline, RollGrid grid, RunPlaying playing, int part, Technique technique, int rungs, Crossing crossing, Func<int, RollStep[]?> whenNew)
    {
        _whenNew = whenNew;
        _outline = outline;
        _grid = grid;
        _playing = playing;
        _part = part;
        _fingers = technique == Technique.Fingers;
        _top = rungs - 1;
        _leap = technique == Technique.Plectrum ? 1 : 2;
        _moves = [.. Enumerable.Range(-_leap, (2 * _leap) + 1).Where(move => move != 0), -1, 1];
        _chance = playing.SectionChance(part).For("roll");
        Bars = crossing == Crossing.Follow ? Following() : Across(crossing);
    }

    /// <summary>The steps of each bar of the run.</summary>
    public RollStep[][] Bars { get; }

    /// <summary>Share of the moves that go the same way in two bars, by the relative heights of their steps.</summary>
    private double Likeness(RollStep[] one, RollStep[] two)
    {
        var moves = Math.Max(one.Length, two.Length) - 1;
        if (moves < 1)
        {
            return 1;
        }

        var same = 0;
        for (var i = 1; i < Math.Min(one.Length, two.Length); i++)
        {
            same += Move(one, i) == Move(two, i) ? 1 : 0;
        }

        return (double)same / moves;
    }

    private int Move(RollStep[] steps, int at) => Math.Sign(steps[at].Height(_fingers) - steps[at - 1].Height(_fingers));

    // Three alike, the middle one the riff itself, and an answer; in a later playing some bars are varied.
    private RollStep[][] Following()
    {
        var bars = new RollStep[_outline.Places.Length][];
        Lane? after = null;
        for (var bar = 0; bar < bars.Length; bar++)
        {
            var place = _outline.Places[bar].GroupPlace;
            var (size, index, group) = place.Size > 1 ? (place.Size, place.Index, place.Group) : (UsualGroup, bar % UsualGroup, bar / UsualGroup);
            var riff = Lively(bar, after);
            var figure = index % 2 == 1 ? riff : Varied(riff, _chance.For("varied").At(index / 2 % 2), after);
            if (size > 1 && index == size - 1)
            {
                figure = Answer(bar, index % 2 == 0 ? riff : Varied(riff, _chance.For("varied").At((index - 1) / 2 % 2), after), _chance.For("answer"), after);
                figure = group % 2 == 0 ? figure : Varied(figure, _chance.For("answer").At(group % 4), after);
            }

            if (_playing.TaskOf(_part, bar) == PartTask.Fill)
            {
                figure = Fill(figure, riff, _playing.PlayingChance(_part).For("fill").At(bar), after);
            }
            else if (_playing.IsVaried(_part, bar))
            {
                figure = Varied(figure, _playing.PlayingChance(_part).For("roll").At(bar), after);
            }

            bars[bar] = Kept(bar, after) ?? StepsOf(figure, after);
            if (bar > 1 && OnlyTurns(bars[bar], bars[bar - 1]) && OnlyTurns(bars[bar], bars[bar - 2]))
            {
                bars[bar] = NotAgain(bars[bar], figure, _chance.For("again").At(bar), after);
            }

            after = bars[bar].Length > 0 ? bars[bar][^1].Lane : after;
        }

        return bars;
    }

    // A bar that is not varied, as it was when the task was new; null if the fingers cannot go on so.
    private RollStep[]? Kept(int bar, Lane? after) =>
        !_playing.IsVaried(_part, bar) && _whenNew(bar) is { } steps && steps.Length == _grid.OnsetsIn(bar).Count
            && !(_fingers && after is { } lane && steps.Length > 0 && RollCells.Finger(lane) == RollCells.Finger(steps[0].Lane))
            ? steps
            : null;

    // The riff itself: the first candidate that is more than two notes in turn.
    private Figure Lively(int bar, Lane? after)
    {
        Figure? first = null;
        for (var turn = 0; turn < Tries; turn++)
        {
            var figure = FigureOf(bar, _chance.For("riff").At(turn));
            first ??= figure;
            if (IsLively(StepsOf(figure, after)))
            {
                return figure;
            }
        }

        return first!;
    }

    // A turn is not always to be had on the strings, nor is a drone; then such bars would be alike.
    private static bool OnlyTurns(RollStep[] one, RollStep[] two) => one.Select(Plain).SequenceEqual(two.Select(Plain));

    private static (Lane Lane, int Rung) Plain(RollStep step) => (step.Lane == Lane.Drone ? Lane.Low : step.Lane, step.Rung);

    private bool IsLively(RollStep[] steps)
    {
        if (steps.Length < 3)
        {
            return true;
        }

        var one = steps[0].Height(_fingers);
        double? other = null;
        foreach (var step in steps)
        {
            var height = step.Height(_fingers);
            if (height != one && other is { } second && height != second)
            {
                return true;
            }

            other = height != one ? height : other;
        }

        return false;
    }

    // One cell otherwise, not the first if there are others: the downbeat and the contour stay.
    private Figure Varied(Figure figure, Chance chance, Lane? after)
    {
        if (figure.Cells.Count == 0)
        {
            return figure;
        }

        var steps = StepsOf(figure, after);
        var found = figure;
        var likest = -1.0;
        for (var turn = 0; turn < Tries && likest < LeastLike; turn++)
        {
            var cells = figure.Cells.Count;
            var chosen = cells == 1 ? 0 : 1 + chance.At(turn).Below(cells - 1);
            var inside = chance.At(turn).For("cell");
            var other = figure with { ChanceOf = cell => cell == chosen ? inside : figure.ChanceOf(cell) };
            var made = StepsOf(other, after);
            var likeness = made.SequenceEqual(steps) ? -1 : Likeness(made, steps) - (IsLively(made) ? 0 : 0.5) - (OnlyTurns(made, steps) ? 0.35 : 0);
            if (likeness > likest)
            {
                (found, likest) = (other, likeness);
            }
        }

        return found;
    }

    // The likest bar that is another: with one cell otherwise, the first included, or if there is none a figure of its own.
    private RollStep[] NotAgain(RollStep[] steps, Figure figure, Chance chance, Lane? after)
    {
        var found = steps;
        var likest = double.MinValue;
        for (var turn = 0; turn < 4 * Tries && likest < LeastLike; turn++)
        {
            var inside = chance.At(turn);
            var chosen = inside.Below(Math.Max(1, figure.Cells.Count));
            var other = turn < 2 * Tries
                ? figure with { ChanceOf = cell => cell == chosen ? inside : figure.ChanceOf(cell) }
                : FigureOf(figure.Bar, inside);
            var made = StepsOf(other, after);
            var likeness = Likeness(made, steps) - (IsLively(made) ? 0 : 0.5);
            if (likeness > likest && !OnlyTurns(made, steps))
            {
                (found, likest) = (made, likeness);
            }
        }

        return found;
    }

    // A figure that goes another way than the riff about every other time.
    private Figure Answer(int bar, Figure riff, Chance chance, Lane? after)
    {
        var steps = StepsOf(riff, after);
        var found = riff;
        var nearest = double.MaxValue;
        for (var turn = 0; turn < 2 * Tries; turn++)
        {
            var other = FigureOf(bar, chance.At(turn));
            // Its groups may start on any note.
            other = other with { Cells = [.. other.Cells.Select((cell, i) => (cell.Size, i == 0))], Freely = true };
            var made = StepsOf(other, after);
            var distance = Math.Abs(Likeness(made, steps) - AnswerLike) + (IsLively(made) ? 0 : 0.5);
            if (distance < nearest)
            {
                (found, nearest) = (other, distance);
            }
        }

        return found;
    }

    // The figure that ends a stretch of bars, turned away from in its second half.
    private Figure Fill(Figure figure, Figure riff, Chance chance, Lane? after)
    {
        var (steps, plain) = (StepsOf(figure, after), StepsOf(riff, after));
        var half = figure.Cells.Count / 2;
        var found = figure;
        var nearest = double.MaxValue;
        for (var turn = 0; turn < 2 * Tries; turn++)
        {
            var inside = chance.At(turn);
            var other = figure with
            {
                Cells = [.. figure.Cells.Select((cell, i) => (cell.Size, i == 0 || (i < half && cell.StartsGroup)))],
                ChanceOf = cell => cell < half ? figure.ChanceOf(cell) : inside,
                Freely = true,
            };
            var made = StepsOf(other, after);
            var distance = Math.Abs(Likeness(made, steps) - FillLike) + Math.Max(0, Likeness(made, plain) - MostAnswering)
                + (IsLively(made) ? 0 : 0.5) + (made.SequenceEqual(steps) ? 1 : 0);
            if (distance < nearest)
            {
                (found, nearest) = (other, distance);
            }
        }

        return found;
    }

    private Figure FigureOf(int bar, Chance chance)
    {
        var place = _outline.Places[bar];
        var onsets = _grid.OnsetsIn(bar);
        var cells = new List<(int Size, bool StartsGroup)>();
        for (var group = 0; group < place.Meter.GroupSizes.Count; group++)
        {
            var from = place.Meter.Unit * place.Meter.GroupStartUnits[group];
            var to = from + (place.Meter.Unit * place.Meter.GroupSizes[group]);
            var notes = onsets.Count(onset => onset >= from && onset < to);
            if (notes == 0)
            {
                continue;
            }

            var cuts = RollCells.Cuts(notes);
            cells.AddRange(cuts[chance.At(group).For("cut").Below(cuts.Count)].Select((size, i) => (size, i == 0)));
        }

        return new Figure(bar, cells, chance, _ => chance);
    }

    private RollStep[] StepsOf(Figure figure, Lane? after)
    {
        var weak = WeakIn(figure.Bar);
        return _fingers
            ? Turned(RollCells.Lanes(figure.Cells, figure.ChanceOf, after, closesEach: false, figure.Freely), figure.Cells, figure.ChanceOf, weak)
            : Climbed(figure.Cells, figure.Start, figure.ChanceOf, weak);
    }

    // Notes that may be scale steps: those between the units; where every note is on a unit, those inside the groups. Off-beats alone have
    // none, or the chord would hardly be heard.
    private bool[] WeakIn(int bar)
    {
        var meter = _outline.Places[bar].Meter;
        var onsets = _grid.OnsetsIn(bar);
        var between = onsets.Select(onset => !(onset / meter.Unit).IsInteger).ToArray();
        return !between.Contains(true) ? [.. onsets.Select(onset => !meter.GroupStartUnits.Contains((int)(onset / meter.Unit).Numerator))]
            : between.Contains(false) ? between
            : new bool[onsets.Count];
    }

    private static RollStep[] Turned(IReadOnlyList<Lane> lanes, IReadOnlyList<(int Size, bool StartsGroup)> cells, Func<int, Chance> chanceOf, bool[] weak)
    {
        var steps = lanes.Select(lane => new RollStep(lane, 0, 0)).ToArray();
        var at = 0;
        for (var cell = 0; cell < cells.Count; cell++)
        {
            var first = at;
            for (var end = at + cells[cell].Size; at < end; at++)
            {
                var chance = chanceOf(cell).At(at - first).For("turn");
                if (at > 0 && weak[at] && steps[at - 1].Turn == 0 && lanes[at] != Lane.Drone && chance.Happens(TurnShare))
                {
                    steps[at] = steps[at] with { Turn = chance.At(1).Happens(0.5) ? 1 : -1 };
                }
            }
        }

        return steps;
    }

    // A walk over the notes of the shape from cell to cell, by neighbouring strings for a plectrum; now and then it stays and steps.
    private RollStep[] Climbed(IReadOnlyList<(int Size, bool StartsGroup)> cells, Chance start, Func<int, Chance> chanceOf, bool[] weak)
    {
        var steps = new List<RollStep>(weak.Length);
        var open = new List<int>(_moves.Length);
        var stayed = false;
        for (var cell = 0; cell < cells.Count; cell++)
        {
            var rung = StartOf(cell, cells, start);
            var next = cell + 1 < cells.Count ? StartOf(cell + 1, cells, start) : 0;
            steps.Add(new RollStep(Lane.Low, rung, 0));
            stayed = false;
            for (var i = 1; i < cells[cell].Size; i++)
            {
                var chance = chanceOf(cell).At(cell).At(i);
                var here = steps.Count;
                var reach = (cells[cell].Size - i) * _leap;
                if (!stayed && (weak[here] || (weak[here - 1] && i > 1)) && Math.Abs(rung - next) <= reach && chance.Happens(StayShare))
                {
                    var turn = chance.At(1).Happens(0.5) ? 1 : -1;
                    steps[here - 1] = weak[here] ? steps[here - 1] : steps[here - 1] with { Turn = turn };
                    steps.Add(new RollStep(Lane.Middle, rung, weak[here] ? turn : 0));
                    stayed = true;
                    continue;
                }

                open.Clear();
                foreach (var move in _moves)
                {
                    if (rung + move >= 0 && rung + move <= _top && Math.Abs(rung + move - next) <= reach)
                    {
                        open.Add(move);
                    }
                }

                rung = open.Count > 0 ? rung + open[chance.For("move").Below(open.Count)] : Math.Clamp(rung + Math.Sign(next - rung), 0, _top);
                steps.Add(new RollStep(rung == _top ? Lane.High : Lane.Middle, rung, 0));
                stayed = false;
            }
        }

        return [.. steps];
    }

    // The lowest notes start the groups.
    private int StartOf(int cell, IReadOnlyList<(int Size, bool StartsGroup)> cells, Chance start) =>
        cell == 0 ? 0 : Math.Min(_top, start.At(cell).For("start").Below(cells[cell].StartsGroup ? 2 : 4));

    // Cells of one size from the run's start, or from each bar group's, then split into bars.
    private RollStep[][] Across(Crossing crossing)
    {
        var flat = new List<RollStep>();
        var bars = _outline.Places.Length;
        var first = 0;
        while (first < bars)
        {
            // A loop may jump back inside a group that began before it.
            var end = crossing == Crossing.Free ? bars : Math.Min(bars, first + _outline.Places[first].GroupPlace.Size);
            var threes = Enumerable.Range(first, end - first)
                .All(bar => _outline.Places[bar].Meter.GroupSizes.All(size => size % 3 == 0));
            var origin = _grid.NotesBefore(first);
            var starts = CellStarts(_grid.NotesBefore(end) - origin, threes ? 4 : 3);
            var lengths = starts.Select((at, cell) => (Size: (cell + 1 < starts.Count ? starts[cell + 1] : _grid.NotesBefore(end) - origin) - at, StartsGroup: true)).ToArray();
            Chance ChanceOf(int cell) => ChanceAcross(cell, origin + starts[cell], lengths[cell].Size);
            bool[] weak = [.. Enumerable.Range(first, end - first).SelectMany(WeakIn)];
            if (_fingers)
            {
                var lanes = RollCells.Lanes(lengths, ChanceOf, flat.Count == 0 ? null : flat[^1].Lane, closesEach: true);
                flat.AddRange(Turned(lanes, lengths, ChanceOf, weak));
            }
            else
            {
                flat.AddRange(Climbed(lengths, _chance.For("cross"), ChanceOf, weak));
            }

            first = end;
        }

        return [.. Enumerable.Range(0, bars).Select(bar =>
            flat.GetRange(_grid.NotesBefore(bar), _grid.OnsetsIn(bar).Count).ToArray())];
    }

    // Three figures in turn, four times each; in a varied bar the cells inside it are others.
    private Chance ChanceAcross(int cell, int firstNote, int size)
    {
        var bar = 0;
        while (_grid.NotesBefore(bar + 1) <= firstNote)
        {
            bar++;
        }

        return _playing.IsVaried(_part, bar) && firstNote > _grid.NotesBefore(bar) && firstNote + size <= _grid.NotesBefore(bar + 1)
            ? _playing.PlayingChance(_part).For("roll").At(cell)
            : _chance.For("cross").At(cell / 4 % 3);
    }

    // Cells of one size; the remainder is spread over the last cells, so that none has a single note: ten threes and one become nine
    // threes and a four.
    private static List<int> CellStarts(int total, int size)
    {
        var starts = new List<int>();
        var at = 0;
        while (at < total)
        {
            starts.Add(at);
            var left = total - at;
            at += left switch
            {
                _ when left <= 4 && left != size => left,
                _ when size == 4 && left == 5 => 3,
                _ when size == 3 && left == 5 => 3,
                _ => size,
            };
        }

        return starts;
    }

    // A bar as it is made: its cells, and the chances of where they start and of what is in them.
    private sealed record Figure(int Bar, IReadOnlyList<(int Size, bool StartsGroup)> Cells, Chance Start, Func<int, Chance> ChanceOf, bool Freely = false);
}
