using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Charts;

/// <summary>A chart unfolded: all bars of the form in playing order, each with meter, place, tempo and feel. One pass is laid out once;
/// later passes are the same, shifted in time. Pure: the same chart gives the same plan.</summary>
public sealed class FormPlan
{
    /// <summary>Maximum number of bars in one pass of the form.</summary>
    public const int MostBars = 20_000;

    /// <summary>Unit duration, in seconds, below which units are too fast to count one by one. Common practice, no source.</summary>
    public static readonly Rational QuickUnit = new(1, 5);

    private readonly BarPlace[] _pass;
    private readonly BarPlace[] _tag;
    private readonly SectionRun[] _runs;
    private readonly SectionRun[] _tagRuns;
    private readonly int[] _occurrences;
    private readonly int[] _tagOccurrences;

    private readonly Tempo[] _tempiAfter;

    // Each run as played in successive laps, whose endings may have further verses.
    private readonly Section[][] _played;

    private readonly bool _vampsGoRound;
    private readonly BarLoop? _loop;
    private readonly SectionRun? _loopHead;
    private readonly SectionRun? _loopTail;

    /// <summary>Lays out a chart.</summary>
    /// <param name="chart">The chart.</param>
    /// <param name="vampsGoRound">True to have each vamp lead back into itself and not into the next section.</param>
    /// <param name="loop">Bars to loop: the last leads back into the first and not into the bar after it. Null for none.</param>
    /// <param name="pace">The factor by which the chart sounds faster than written. Only the levels felt and counted follow it where the
    /// chart does not say them; the tempi stay as written. Null for 1.</param>
    /// <exception cref="ChartProblemException">Tempi, joins or lengths cannot be played.</exception>
    public FormPlan(Chart chart, bool vampsGoRound = false, BarLoop? loop = null, Rational? pace = null)
    {
        Chart = chart;
        _vampsGoRound = vampsGoRound;
        var layout = new Layout(chart, pace ?? Rational.One);
        try
        {
            layout.Run();
            PassLength = layout.Pass.Last().End - Position.Zero;
            // Places in the last pass must be exact too.
            _ = layout.Bars[^1].End + (PassLength * (chart.Times - 1));
        }
        catch (OverflowException)
        {
            throw new ChartProblemException(
                "these meters cannot be combined exactly; use fewer different denominators");
        }

        _pass = [.. layout.Pass];
        _tag = [.. layout.Bars.Skip(_pass.Length)];
        _tagRuns = [.. layout.Runs.SkipWhile(run => run.FirstBar < _pass.Length)];
        _runs = [.. layout.Runs.SkipLast(_tagRuns.Length)];
        _occurrences = [.. layout.Occurrences.Take(_runs.Length)];
        _tagOccurrences = [.. layout.Occurrences.Skip(_runs.Length)];
        _played = [.. layout.Played];
        _tempiAfter = [.. layout.TempiAfter];
        Bars = ((long)_pass.Length * chart.Times) + _tag.Length is var all && all <= int.MaxValue
            ? (int)all
            : throw new ChartProblemException(
                $"{chart.Times} times a form of {_pass.Length} bars is too long; make times {int.MaxValue / _pass.Length} at most");
        if (loop is { } round)
        {
            _loopHead = From(PlaceAt(round.From));
            _loopTail = UpTo(PlaceAt(round.End - 1));
            _loop = loop;
        }
    }

    /// <summary>The chart.</summary>
    public Chart Chart { get; }

    /// <summary>Bars in one pass of the form.</summary>
    public int BarsInPass => _pass.Length;

    /// <summary>The length of one pass.</summary>
    public Span PassLength { get; }

    /// <summary>Number of bars in all passes of the chart and in its tag, without the ringing bar at the end.</summary>
    public int Bars { get; }

    /// <summary>The bar with that number. The form repeats without end unless the chart has a tag, which ends it.</summary>
    /// <exception cref="ArgumentOutOfRangeException">Negative.</exception>
    public BarPlace BarAt(int index)
    {
        var place = PlaceAt(index);
        if (_loop is not { } loop || !loop.Contains(index) || place.Run.Number != _loopTail!.Number)
        {
            return place;
        }

        // A bar group cut short by the jump back ends there.
        var group = place.GroupPlace;
        var size = Math.Min(group.Size, group.Index + loop.End - index);
        var bars = Enumerable.Range(index - group.Index, size).Select(bar => PlaceAt(bar).Length);
        return place with { Run = _loopTail, GroupPlace = group with { Size = size, Length = group.Length is null ? null : Unequal(bars) } };
    }

    // The length of a bar group whose bars differ in length; null for equal bars.
    private static Span? Unequal(IEnumerable<Span> bars)
    {
        var (first, same, sum) = ((Span?)null, true, Span.Zero);
        foreach (var bar in bars)
        {
            first ??= bar;
            same &= bar == first;
            sum += bar;
        }

        return same ? null : sum;
    }

    private BarPlace PlaceAt(int index)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(index);
        var passes = _pass.Length * Chart.Times;
        if (_tag.Length > 0 && index >= passes)
        {
            var tagged = _tag[Math.Min(index - passes, _tag.Length - 1)];
            return tagged with { Index = index, Run = TagRun(tagged.Run.Number - _runs.Length), Start = tagged.Start + (PassLength * (Chart.Times - 1)) };
        }

        var lap = index / _pass.Length;
        var bar = _pass[index % _pass.Length];
        if (lap == 0)
        {
            return bar;
        }

        return bar with { Index = index, Run = RunAt(lap, bar.Run.Number), Start = bar.Start + (PassLength * lap) };
    }

    /// <summary>The tempo that a run of the form or of its tag leaves to the run after it.</summary>
    public Tempo TempoAfter(SectionRun run) =>
        _tempiAfter[run.Number - (_runs.Length * Chart.Times) is var tagged && tagged >= 0 && tagged < _tagRuns.Length ? _runs.Length + tagged : run.Number % _runs.Length];

    /// <summary>The runs of one pass of the form, then those of its tag.</summary>
    public IEnumerable<SectionRun> Runs => [.. _runs, .. Enumerable.Range(0, _tagRuns.Length).Select(TagRun)];

    /// <summary>The run after another, as if the form repeated without end.</summary>
    public SectionRun RunAfter(SectionRun run)
    {
        if (_vampsGoRound && run.Section.Vamp)
        {
            return run;
        }

        if (_loopTail is not null && run.Number == _loopTail.Number && run.Bars == _loopTail.Bars)
        {
            return _loopHead!;
        }

        var next = run.Number + 1;
        var tagged = next - (_runs.Length * Chart.Times);
        return tagged >= 0 && tagged < _tagRuns.Length ? TagRun(tagged) : RunAt(next / _runs.Length, next % _runs.Length);
    }

    // Where a loop jumps back to: in the middle of a section nothing is sung before its first bar.
    private static SectionRun From(BarPlace first) => first.IndexInRun == 0
        ? first.Run
        : first.Run with
        {
            Section = first.Run.Section with { Bars = [.. first.Run.Section.Bars.Skip(first.IndexInRun)], Tune = null },
            FirstBar = first.Index,
            Bars = first.Run.Bars - first.IndexInRun,
            Start = first.Start,
        };

    // The run in which a loop jumps back, as if it ended there; its tune stays as written.
    private static SectionRun UpTo(BarPlace last)
    {
        var (run, bars) = (last.Run, last.IndexInRun + 1);
        return last.IsLastOfRun ? run : run with
        {
            Bars = bars,
            Section = run.Section with
            {
                Bars = [.. run.Section.Bars.Take(bars)],
            },
        };
    }

    private SectionRun TagRun(int number)
    {
        var laps = Chart.Times - 1;
        var run = _tagRuns[number];
        return run with
        {
            Number = run.Number + (laps * _runs.Length),
            FirstBar = run.FirstBar + (laps * _pass.Length),
            Verse = run.Verse + (laps * _tagOccurrences[number]),
            Start = run.Start + (PassLength * laps),
        };
    }

    private SectionRun RunAt(int lap, int inPass)
    {
        var run = _runs[inPass];
        return lap == 0
            ? run
            : run with
            {
                Number = (lap * _runs.Length) + inPass,
                FirstBar = run.FirstBar + (lap * _pass.Length),
                Verse = run.Verse + (lap * _occurrences[inPass]),
                Section = _played[inPass][lap % _played[inPass].Length],
                Start = run.Start + (PassLength * lap),
            };
    }

    private sealed class Layout(Chart chart, Rational pace)
    {
        private readonly Dictionary<int, int> _played = [];
        private readonly Dictionary<(int Section, int Ending), int> _ended = [];
        private readonly List<int> _ranks = [];
        private readonly PlayedSections _sections = new(chart);
        private Position _at = Position.Zero;
        private Tempo _tempo;
        private bool _started;
        private int _inPass;
        private Dictionary<(int Section, int Ending), int>? _endedInPass;

        public List<BarPlace> Bars { get; } = [];

        public IEnumerable<BarPlace> Pass => Bars.Take(_inPass);

        public List<SectionRun> Runs { get; } = [];

        public List<int> Occurrences { get; } = [];

        public List<Section[]> Played { get; } = [];

        public List<Tempo> TempiAfter { get; } = [];

        public void Run()
        {
            var order = new List<int>();
            Section? before = null;
            var indexBefore = -1;
            Add(chart.Form);
            _inPass = Bars.Count;
            LeadOutInto(chart.Sections[chart.Form[0].Section], _inPass - 1);
            if (chart.Times > 1)
            {
                NeedRoomFor(chart.Sections[chart.Form[0].Section]);
            }

            Occurrences.AddRange(order.Select(section => _played[section]));
            for (var i = 0; i < Runs.Count; i++)
            {
                // All verses of its ending, in the order of the laps.
                var (run, rank) = (Runs[i], _ranks[i]);
                var verses = _sections.VersesOf(run.SectionIndex, run.Ending);
                var uses = run.Ending == 0 ? 0 : _ended[(run.SectionIndex, run.Ending)];
                Played.Add([.. Enumerable.Range(0, verses).Select(lap => _sections.Of(run.SectionIndex, run.Ending, ((lap * uses) + rank) % verses, run.Up))]);
            }

            var inPass = new Dictionary<int, int>(_played);
            _endedInPass = new Dictionary<(int, int), int>(_ended);
            order.Clear();
            Add(chart.Tag);
            Occurrences.AddRange(order.Select(section => inPass.GetValueOrDefault(section)));

            void Add(IReadOnlyList<FormStep> steps)
            {
                foreach (var step in steps)
                {
                    for (var time = 0; time < step.Times; time++)
                    {
                        var (section, ending, rank) = Next(step);
                        if (Bars.Count + section.Bars.Count > MostBars)
                        {
                            throw new ChartProblemException(
                                $"the form has more than {MostBars} bars; repeat it with times instead", section.Name, null);
                        }

                        LeadOutInto(section, Bars.Count - 1);
                        NeedRoomFor(section);
                        _ranks.Add(rank);
                        Lay(section, step with { Ending = ending }, step.Section == indexBefore ? null : before);
                        order.Add(step.Section);
                        (before, indexBefore) = (section, step.Section);
                    }
                }
            }
        }

        // The next playing of a step: the section with its ending, the number of the ending, and how often it was taken before.
        private (Section Section, int Ending, int Rank) Next(FormStep step)
        {
            var written = chart.Sections[step.Section];
            if (written.Endings.Count == 0)
            {
                return step.Ending is { } missing
                    ? throw new ChartProblemException($"{written.Name} has no ending {missing}; leave out ending {missing}")
                    : (_sections.Of(step.Section, 0, 0, step.Up), 0, 0);
            }

            if (step.Ending > written.Endings.Count)
            {
                throw new ChartProblemException($"{written.Name} has {written.Endings.Count} endings; use ending {written.Endings.Count} at most");
            }

            var ending = step.Ending ?? Math.Min(_played.GetValueOrDefault(step.Section) + 1, written.Endings.Count);
            var rank = _ended.GetValueOrDefault((step.Section, ending));
            _ended[(step.Section, ending)] = rank + 1;

            // A tag follows all passes of the form.
            var earlier = rank + ((chart.Times - 1) * (_endedInPass?.GetValueOrDefault((step.Section, ending)) ?? 0));
            return (_sections.Of(step.Section, ending, earlier % _sections.VersesOf(step.Section, ending), step.Up), ending, rank);
        }

        // Without a section before it, no join is made.
        private void Lay(Section section, FormStep step, Section? before)
        {
            var verse = _played.GetValueOrDefault(step.Section);
            _played[step.Section] = verse + 1;
            var places = GroupPlaces(section);
            var run = new SectionRun(
                Runs.Count, section, section.Key ?? chart.Key, Bars.Count, section.Bars.Count, verse, _at)
            {
                SectionIndex = step.Section,
                Ending = step.Ending ?? 0,
                EndingAt = chart.Sections[step.Section].Bars.Count,
                Up = step.Up,
            };
            Runs.Add(run);
            var tempoBefore = _started ? _tempo : (Tempo?)null;
            SetTempo(section, before, places);
            tempoBefore ??= InSection(section, () => chart.Tempo.At(section.Bars[0].Meter, GroupLength(section, places, 0)));
            var ramps = new TempoRamps(section, places);
            for (var i = 0; i < section.Bars.Count; i++)
            {
                var bar = section.Bars[i];
                var (tempi, beforeRamp) = ramps.Through(i, ref _tempo);
                var counted = section.Counted ?? chart.Counted ?? CountedIn(bar.Meter, new Tempo(tempi[0].Tempo.WholesPerMinute * pace));
                var stop = StopIn(section, i);
                Tempo? unheld = null;
                var heldFor = Span.Zero;
                if (stop == BandStop.Hold)
                {
                    unheld = tempi[^1].Tempo;
                    heldFor = Hold.LengthIn(bar.Meter);
                    tempi = Hold.Tempi(bar.Meter, heldFor, section.HoldSeconds, unheld.Value);
                }

                Bars.Add(new BarPlace
                {
                    Index = Bars.Count,
                    Run = run,
                    IndexInRun = i,
                    Start = _at,
                    Meter = bar.Meter,
                    GroupPlace = places[i],
                    Chords = bar.Chords,
                    Felt = Existing(section.Feel ?? chart.Feel ?? FeltIn(bar.Meter, counted), bar.Meter),
                    Counted = counted,
                    Tempi = tempi,
                    Inserted = bar.Inserted,
                    Stop = stop,
                    HeldFor = heldFor,
                    TempoUnheld = unheld,
                    TempoBeforeRamp = beforeRamp,
                });
                _at += bar.Meter.Length;
            }

            if (section.Tempo?.After is { } after)
            {
                var last = section.Bars.Count - 1;
                _tempo = after.Mark is { } mark ? InSection(section, () => mark.At(section.Bars[last].Meter, GroupLength(section, places, last))) : tempoBefore.Value;
            }

            TempiAfter.Add(_tempo);
        }

        private static BandStop StopIn(Section section, int bar) =>
            section.HoldSeconds > 0 && bar == section.Bars.Count - 1 ? BandStop.Hold
            : section.StopTime || (section.BreakBars > 0 && bar == section.Bars.Count - section.BreakBars) ? BandStop.Strike
            : section.BreakBars > 0 && bar > section.Bars.Count - section.BreakBars ? BandStop.Rest
            : BandStop.None;

        // A pickup of a bar or more sounds over the end of one section.
        private void NeedRoomFor(Section next)
        {
            if (Bars.Count == 0 || next.Tune?.PickupLength is not { } pickup || pickup < next.Bars[0].Meter.Length)
            {
                return;
            }

            var run = Bars[^1].Run.Number;
            var room = Span.Zero;
            for (var bar = Bars.Count - 1; bar >= 0 && room < pickup && Bars[bar].Run.Number == run; bar--)
            {
                room += Bars[bar].Length;
            }

            if (room < pickup)
            {
                throw new ChartProblemException($"the pickup of {next.Name} is longer than {Bars[^1].Run.Section.Name}, which is played before it; make it shorter", next.Name, null);
            }
        }

        // A pickup sounds in time: the hold before it has ended.
        private void LeadOutInto(Section next, int held)
        {
            if (held >= 0 && Bars[held] is { Stop: BandStop.Hold } bar && next.Tune?.PickupLength is { } pickup && bar.Length - bar.HeldFor < pickup)
            {
                var heldFor = bar.Length - pickup;
                Bars[held] = heldFor > Span.Zero
                    ? bar with { HeldFor = heldFor, Tempi = Hold.Tempi(bar.Meter, heldFor, bar.Run.Section.HoldSeconds, bar.TempoUnheld!.Value) }
                    : bar with { Stop = BandStop.None, HeldFor = Span.Zero, Tempi = [(Span.Zero, bar.TempoUnheld!.Value)] };
            }
        }

        private void SetTempo(Section section, Section? before, BarGroupPlace[] places)
        {
            var meter = section.Bars[0].Meter;
            if (!_started)
            {
                _tempo = InSection(section, () => chart.Tempo.At(meter, GroupLength(section, places, 0)));
                _started = true;
            }
            else if (section.Join is { } join && before is not null)
            {
                var ratio = join.BarsEqual
                    ? meter.Length / before.Bars[^1].Meter.Length
                    : join.After / join.Before;
                _tempo = InSection(section, () => Checked(_tempo.Times(ratio)));
            }

            if (section.Tempo?.From is { } from)
            {
                _tempo = InSection(section, () => from.At(meter, GroupLength(section, places, 0)));
            }
        }

        // The changes of tempo inside a section, bar after bar.
        private sealed class TempoRamps
        {
            private readonly Section _section;
            private readonly BarGroupPlace[] _places;
            private readonly List<(int From, int End, TempoMark To, TempoAfter? After)> _ramps = [];
            private BarsOfRamp? _ramp;
            private Tempo _before;

            public TempoRamps(Section section, BarGroupPlace[] places)
            {
                (_section, _places) = (section, places);
                var count = section.Bars.Count;
                if (section.Tempo?.To is { } mark)
                {
                    _ramps.Add((0, section.Tempo.OverBars ?? count, mark, null));
                }

                _ramps.AddRange(section.Ramps.Select(ramp => (ramp.BarsIn(count).From, ramp.BarsIn(count).End, ramp.To, ramp.After)));
                _ramps.Sort((one, other) => one.From.CompareTo(other.From));
                var end = 0;
                foreach (var ramp in _ramps)
                {
                    if (ramp.From < 0 || ramp.End > count)
                    {
                        var takes = ramp.From <= 0 ? $"takes {ramp.End - ramp.From} bars" : $"ends at bar {ramp.End}";
                        throw new ChartProblemException($"the tempo ramp {takes}, but the section has {count}; make it {count} at most", section.Name, null);
                    }

                    if (ramp.From < end)
                    {
                        throw new ChartProblemException($"two changes of tempo overlap in bar {ramp.From + 1}; give each its own bars", section.Name, null);
                    }

                    end = ramp.End;
                }
            }

            public (IReadOnlyList<(Span Onset, Tempo Tempo)> Tempi, Tempo? Before) Through(int bar, ref Tempo tempo)
            {
                var meter = _section.Bars[bar].Meter;
                if (_ramps.Count == 0 || bar < _ramps[0].From)
                {
                    return ([(Span.Zero, tempo)], null);
                }

                var (from, end, to, after) = _ramps[0];
                if (bar == from)
                {
                    var target = InSection(_section, () => to.At(meter, GroupLength(_section, _places, bar)));
                    _before = tempo;
                    _ramp = new BarsOfRamp(tempo, target, _section.Bars.Skip(from).Take(end - from).Sum(other => 2 * other.Meter.Units));
                }

                var tempi = _ramp!.Through(meter);
                tempo = _ramp.Target;
                if (bar == end - 1)
                {
                    _ramps.RemoveAt(0);
                    tempo = after is not { } then ? tempo
                        : then.Mark is { } mark ? InSection(_section, () => mark.At(meter, GroupLength(_section, _places, bar)))
                        : _before;
                }

                return (tempi, _before);
            }
        }

        private static T InSection<T>(Section section, Func<T> make)
        {
            try
            {
                return make();
            }
            catch (ChartProblemException problem) when (problem.Section is null)
            {
                throw new ChartProblemException(problem.Message, section.Name, null);
            }
        }

        private static Tempo Checked(Tempo tempo) =>
            !TempoMark.IsAccepted(tempo.WholesPerMinute)
                ? throw new ChartProblemException(
                    $"the join gives a tempo of {Decimals.Of(tempo.WholesPerMinute)} whole notes per minute; "
                    + $"{TempoMark.Slowest} to {TempoMark.Fastest} are accepted")
                : tempo;

        private static Counted CountedIn(BarMeter meter, Tempo tempo)
        {
            var compound = meter.GroupSizes.Count > 1 && meter.GroupSizes.All(size => size == 3);
            return compound || tempo.Seconds(meter.Unit) < QuickUnit ? Counted.Groups : Counted.Units;
        }

        // In a bar without groups the group level feels the whole bar as one group.
        private static FeltLevel Existing(FeltLevel felt, BarMeter meter) =>
            felt == FeltLevel.Group && meter.Grouping.IsUndivided ? FeltLevel.Bar : felt;

        private static FeltLevel FeltIn(BarMeter meter, Counted counted) =>
            counted == Counted.Units ? FeltLevel.Unit
            : meter.Grouping.IsUndivided ? FeltLevel.Bar
            : FeltLevel.Group;

        private static BarGroupPlace[] GroupPlaces(Section section)
        {
            var bars = section.Bars;
            var total = bars.Count(bar => !bar.Inserted);
            var groupOf = new int[bars.Count];
            var counted = 0;
            for (var i = 0; i < bars.Count; i++)
            {
                // An inserted bar belongs to the group before it; at the very start it opens the first group.
                groupOf[i] = bars[i].Inserted
                    ? (i == 0 ? 0 : groupOf[i - 1])
                    : section.BarGroups.PlaceOf(counted++, total).Group;
            }

            var places = new BarGroupPlace[bars.Count];
            for (int start = 0, end; start < bars.Count; start = end)
            {
                end = start;
                while (end < bars.Count && groupOf[end] == groupOf[start])
                {
                    end++;
                }

                var length = Unequal(bars.Skip(start).Take(end - start).Select(bar => bar.Meter.Length));
                for (var i = start; i < end; i++)
                {
                    places[i] = new BarGroupPlace(groupOf[i], i - start, end - start) { Length = length };
                }
            }

            return places;
        }

        private static Span GroupLength(Section section, BarGroupPlace[] places, int bar) => places[bar].LengthIn(section.Bars[bar].Meter);
    }

    // A ramp over a number of half units, bar after bar.
    private sealed class BarsOfRamp(Tempo from, Tempo target, int steps)
    {
        private readonly Ramp _line = new(from.WholesPerMinute, target.WholesPerMinute);
        private int _done;

        public Tempo Target => target;

        public (Span Onset, Tempo Tempo)[] Through(BarMeter meter)
        {
            var tempi = new List<(Span Onset, Tempo Tempo)>();
            foreach (var (onset, _) in Ramp.HalfUnits(meter.Length, meter.Unit))
            {
                var tempo = Tempo.Multipliable(_line.At(new Rational((2L * _done) + 1, 2L * steps)));
                _done++;
                if (tempi.Count == 0 || tempi[^1].Tempo != tempo)
                {
                    tempi.Add((onset, tempo));
                }
            }

            return [.. tempi];
        }
    }
}
