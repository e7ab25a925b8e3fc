using System.Collections.Immutable;
using System.Globalization;
using GrooveLab.Music.Charts;

namespace GrooveLab.Music.Performance;

/// <summary>A change to the order of the form.</summary>
public abstract record FormChange : StateChange
{
    // Clears all orders for the form except a gradual change of tempo, where it started, and whether it ends by itself.
    internal static FormOrders Plain(FormOrders orders) =>
        FormOrders.None with { Ramp = orders.Ramp, Passes = orders.Passes, StartAt = orders.StartAt };

    // A form that ends by itself continues to the end of the time through in which that bar lies.
    internal static FormOrders Through(FormOrders orders, int bar, FormPlan plan) =>
        orders.Passes is { } passes ? orders with { Passes = Math.Max(passes, (bar / plan.BarsInPass) + 1) } : orders;

    internal static PerformanceRoute Route(PerformanceState state, PerformancePlace place) => new(state, Math.Max(-1, place.Index));

    internal static int FirstBarOf(string name, PerformanceState state, int after)
    {
        var plan = state.Plan;
        for (var bar = Math.Max(0, after); bar < Math.Max(0, after) + (2 * plan.BarsInPass); bar++)
        {
            var run = plan.BarAt(bar).Run;
            if (run.FirstBar == bar && string.Equals(run.Section.Name, name, StringComparison.OrdinalIgnoreCase))
            {
                return bar;
            }
        }

        var chart = state.Chart;
        var played = PlayedIn(chart);
        var found = chart.Sections.FirstOrDefault(section => string.Equals(section.Name, name, StringComparison.OrdinalIgnoreCase));
        if (found is null)
        {
            throw new ChangeRefusedException(Wording.Words.Unknown("section", name, played));
        }

        var what = chart.Tag.Any(step => chart.Sections[step.Section] == found) ? $"{Wording.Words.Quote(found.Name)} is played only in the tag"
            : $"{Wording.Words.Quote(found.Name)} is not in the form";
        throw new ChangeRefusedException($"{what}; sections: {string.Join(", ", played)}");
    }

    // The sections of the form, each once.
    internal static IEnumerable<string> PlayedIn(Chart chart) => chart.Form.Select(step => chart.Sections[step.Section].Name).Distinct();

    // The bar after the last one of the current repetition.
    internal static int EndOfRound(PerformanceState state, PerformancePlace place)
    {
        if (state.Orders.Loop is { } loop)
        {
            return loop.End;
        }

        var route = Route(state, place);
        var index = state.IndexAt(place);
        if (state.Orders.Passes * route.Plan.BarsInPass <= index)
        {
            throw new ChangeRefusedException("the form is ending already");
        }

        return state.Orders.EndBar
            ?? (route.VampOf(index) is { } run ? run.EndBar : ((index / route.Plan.BarsInPass) + 1) * route.Plan.BarsInPass);
    }
}

/// <summary>Goes to another section when this one ends.</summary>
/// <param name="Section">The name of the other section.</param>
public sealed record GoToSection(string Section) : FormChange
{
    internal static ChangeForm Form { get; } = new("section", "section NAME", "go there when this section ends", (rest, _) => new GoToSection(rest));

    /// <inheritdoc/>
    public override string Words => $"section {Section}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        // The tag plays to its end before the band goes back into the last time through; another time through would take the tag's place at once.
        var (plan, run) = (state.Plan, state.BarAt(place).Run);
        var tag = state.TagAround(place.Index, plan);
        var target = FirstBarOf(Section, state, tag - plan.BarsInPass ?? place.Index + 1);
        var free = state.Ordered(orders => (tag is null ? Through(Plain(orders), target, plan) : Plain(orders) with { EndBar = orders.EndBar }) with
        {
            Released = orders.Released.Add(run.Number),
        });
        var last = Route(free, place).OrdinalBefore(run.EndBar, place.Index, Math.Max(0, place.Ordinal))
            ?? throw new ChangeRefusedException(
                $"the band does not reach the end of this section; write jump {Section} to go there at the next bar line");

        // If the bar line is too near, the section plays until its next end.
        last = Math.Max(last, place.Next - 1);
        var next = free.Ordered(orders => orders with { Jumps = orders.Jumps.Clear().Add(last, target) });
        return new ChangeResult(next, $"{Section} next", ChangeMoment.Later, last + 1);
    }
}

/// <summary>Goes to another section at the next bar line.</summary>
/// <param name="Section">Its name.</param>
public sealed record JumpToSection(string Section) : FormChange
{
    internal static ChangeForm Form { get; } = new("jump", "jump NAME", "go there at the next bar line", (rest, _) => new JumpToSection(rest));

    /// <inheritdoc/>
    public override string Words => $"jump {Section}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        var target = FirstBarOf(Section, state, place.Index + 1);
        return new ChangeResult(state.Ordered(orders => Through(Plain(orders), target, state.Plan)), $"to {Section}", ChangeMoment.BarLine, JumpTo: target);
    }
}

/// <summary>What to loop.</summary>
public enum LoopKind
{
    /// <summary>Nothing; ends a loop.</summary>
    Off,

    /// <summary>A section, or the current one.</summary>
    Section,

    /// <summary>The transition to the nearest other section: two bars on either side.</summary>
    Seam,

    /// <summary>Bars by number.</summary>
    Bars,
}

/// <summary>Loops bars.</summary>
/// <param name="Kind">What to loop.</param>
/// <param name="First">With <see cref="LoopKind.Bars"/>: the first bar, from 1; otherwise 0.</param>
/// <param name="Last">The last bar; otherwise 0.</param>
/// <param name="Section">With <see cref="LoopKind.Bars"/>: the section whose bars these are; null, or "form", for those of the form. With
/// <see cref="LoopKind.Section"/>: the section; null for the current one.</param>
public sealed record LoopBars(LoopKind Kind, int First = 0, int Last = 0, string? Section = null) : FormChange
{
    // Bars on either side of a transition.
    private const int AroundSeam = 2;

    // Bars of the form, also across sections.
    private const string WholeForm = "form";

    internal static ChangeForm Form { get; } = new(
        "loop",
        "loop 5 8 | 5 8 in NAME | NAME | section | seam | off",
        "loop these bars",
        Read)
    {
        StandsAlone = true,
    };

    /// <inheritdoc/>
    public override string Words => Kind switch
    {
        LoopKind.Off => "loop off",
        LoopKind.Section => $"loop {Section ?? "section"}",
        LoopKind.Seam => "loop seam",
        _ => string.Create(CultureInfo.InvariantCulture, $"loop {First} {Last}{(Section is null ? string.Empty : $" in {Section}")}"),
    };

    /// <summary>The change as a player means it: bars without a section are those of the section that is heard. In a log they are those of
    /// the form.</summary>
    /// <param name="state">The current state.</param>
    /// <param name="place">Where the band is.</param>
    public LoopBars AsPlayed(PerformanceState state, PerformancePlace place) =>
        Kind == LoopKind.Bars && Section is null ? this with { Section = state.BarAt(place).Run.Section.Name } : this;

    private static LoopBars Read(string rest, PerformanceState state)
    {
        switch (rest.ToLowerInvariant())
        {
            case "off":
                return new LoopBars(LoopKind.Off);
            case "" or "section":
                return new LoopBars(LoopKind.Section);
            case "seam":
                return new LoopBars(LoopKind.Seam);
        }

        var words = rest.Split(' ', 4, StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries);
        if (words is [var first, var last, ..] && IsNumber(first) && IsNumber(last))
        {
            return words switch
            {
                [_, _] => Bars(first, last, null),
                [_, _, var link, { Length: > 0 } name] when string.Equals(link, "in", StringComparison.OrdinalIgnoreCase) => Bars(first, last, name),
                [_, _, var link] when string.Equals(link, "in", StringComparison.OrdinalIgnoreCase) => throw new ChangeRefusedException(
                    $"give a section after 'in'; sections: {string.Join(", ", state.Chart.Sections.Select(section => section.Name))}"),
                _ => throw new ChangeRefusedException($"{Wording.Words.Quote(rest)} is not a range of bars; use loop 5 8 or loop 5 8 in NAME"),
            };
        }

        var isSection = state.Chart.Sections.Any(section => string.Equals(section.Name, rest, StringComparison.OrdinalIgnoreCase));
        return isSection ? new LoopBars(LoopKind.Section, Section: rest)
            : !IsNumber(words[0]) ? throw new ChangeRefusedException(Wording.Words.Unknown("section", rest, PlayedIn(state.Chart), "section", "seam", "off"))
            : words.Length > 1 ? throw new ChangeRefusedException($"{Wording.Words.Quote(words[1])} is not the number of a bar; write loop {words[0]} {words[0]}")
            : throw new ChangeRefusedException($"give the first and the last bar to loop: loop {words[0]} {words[0]}");
    }

    private static bool IsNumber(string word) => word.All(char.IsAsciiDigit);

    private static LoopBars Bars(string first, string last, string? section) => new(
        LoopKind.Bars, ChangeWords.Whole(first, 1, FormPlan.MostBars, "a bar"), ChangeWords.Whole(last, 1, FormPlan.MostBars, "the last bar of the loop"), section);

    internal static ChangeResult Looped(PerformanceState state, int from, int end, string name) => new(
        state.Ordered(orders => Through(Plain(orders), end - 1, state.Plan) with { Loop = new BarLoop(from, end), LoopName = name }),
        $"looping {name}",
        ChangeMoment.BarLine);

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        var plan = state.Plan;
        var now = state.BarAt(place);
        switch (Kind)
        {
            case LoopKind.Off:
                return new ChangeResult(
                    state.Ordered(orders => orders with { Loop = null, LoopName = string.Empty }), "no loop", ChangeMoment.BarLine);
            case LoopKind.Section:
                var whole = Section is null ? Repeatable(now.Run, state) : RunOf(Section, 1, state, place);
                return Looped(state, whole.FirstBar, whole.EndBar, whole.Section.Name);
            case LoopKind.Seam:
                // The nearest transition: behind in the first half of a section, ahead in the second.
                var ahead = now.IndexInRun * 2 >= now.Run.Bars || now.Run.FirstBar == 0;
                var seam = ahead ? now.Run.EndBar : now.Run.FirstBar;
                var (left, right) = (plan.BarAt(seam - 1).Run, plan.BarAt(seam).Run);
                return Looped(
                    state,
                    Math.Max(left.FirstBar, seam - AroundSeam),
                    Math.Min(right.EndBar, seam + AroundSeam),
                    $"the seam {left.Section.Name} - {right.Section.Name}");
            case LoopKind.Bars when Section is { } name && !IsForm(name, state):
                if (Last < First)
                {
                    throw new ChangeRefusedException($"bar {Last} comes before bar {First}; give the first bar, then the last: loop {Last} {First}");
                }

                var run = RunOf(name, Last, state, place);
                var isInEnding = run.Ending > 0 && Last > run.EndingAt;
                var looped = Looped(
                    state,
                    run.FirstBar + First - 1,
                    run.FirstBar + Last,
                    $"{(First == Last ? $"bar {First}" : $"bars {First}-{Last}")} of {run.Section.Name}{(isInEnding ? $" with ending {run.Ending}" : string.Empty)}");

                // The playing that is heard has too few bars.
                return isInEnding && now.Run.SectionIndex == run.SectionIndex && now.Run.Number != run.Number
                    ? looped with { Says = $"{looped.Says}; this time has ending {now.Run.Ending} and {Wording.Words.Count(now.Run.Bars, "bar")}" }
                    : looped;
            default:
                var lap = state.IndexAt(place) / plan.BarsInPass * plan.BarsInPass;
                if (First > plan.BarsInPass || Last > plan.BarsInPass || Last < First)
                {
                    throw new ChangeRefusedException($"the form has {Wording.Words.Count(plan.BarsInPass, "bar")}; give first and last bar to loop: loop 1 {plan.BarsInPass}");
                }

                return Looped(state, lap + First - 1, lap + Last, First == Last ? $"bar {First}" : $"bars {First}-{Last}");
        }
    }

    // A run of the tag, which ends the form, is repeated where the form has the same section.
    internal static SectionRun Repeatable(SectionRun run, PerformanceState state)
    {
        var plan = state.Plan;
        return state.IsInTag(run.FirstBar, plan) ? plan.BarAt(FirstBarOf(run.Section.Name, state, run.FirstBar)).Run : run;
    }

    private static bool IsForm(string name, PerformanceState state) =>
        string.Equals(name, WholeForm, StringComparison.OrdinalIgnoreCase)
        && !state.Chart.Sections.Any(section => string.Equals(section.Name, name, StringComparison.OrdinalIgnoreCase));

    // The current playing of a section, or the next one, that has so many bars: its endings may differ in length.
    private static SectionRun RunOf(string name, int bars, PerformanceState state, PerformancePlace place)
    {
        var plan = state.Plan;
        var now = state.BarAt(place).Run;
        now = string.Equals(now.Section.Name, name, StringComparison.OrdinalIgnoreCase) ? Repeatable(now, state) : now;
        bool IsMeant(SectionRun run) => string.Equals(run.Section.Name, name, StringComparison.OrdinalIgnoreCase);
        if (IsMeant(now) && now.Bars >= bars)
        {
            return now;
        }

        var first = plan.BarAt(FirstBarOf(name, state, now.FirstBar)).Run;
        var most = Math.Max(first.Bars, IsMeant(now) ? now.Bars : 0);
        for (var bar = first.FirstBar; bar < now.FirstBar + (2 * plan.BarsInPass);)
        {
            var run = plan.BarAt(bar).Run;
            if (IsMeant(run))
            {
                if (run.Bars >= bars)
                {
                    return run;
                }

                most = Math.Max(most, run.Bars);
            }

            bar = run.EndBar;
        }

        var others = state.Chart.Form.Select(step => state.Chart.Sections[step.Section].Name).Distinct().Where(other => !string.Equals(other, name, StringComparison.OrdinalIgnoreCase));
        throw new ChangeRefusedException(
            $"{first.Section.Name} has {Wording.Words.Count(most, "bar")}; use loop 1 {most}"
            + (others.FirstOrDefault() is { } other ? $", or name another section: loop 1 2 in {other}" : string.Empty));
    }
}

/// <summary>Repeats the current section until released.</summary>
public sealed record VampSection : FormChange
{
    internal static ChangeForm Form { get; } = new("vamp", "vamp", "this section repeats until go-on", (_, _) => new VampSection());

    /// <inheritdoc/>
    public override string Words => "vamp";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        var run = LoopBars.Repeatable(state.BarAt(place).Run, state);
        return LoopBars.Looped(state, run.FirstBar, run.EndBar, run.Section.Name) with { Says = $"vamp on {run.Section.Name} until go-on" };
    }
}

/// <summary>Releases what holds the band: a hold, a break, a loop or a vamp.</summary>
public sealed record GoOn : FormChange
{
    internal static ChangeForm Form { get; } = new("go-on", "go-on", "release a vamp, a loop, a hold or a break", (_, _) => new GoOn());

    /// <inheritdoc/>
    public override string Words => "go-on";

    /// <summary>Whether anything holds the band that this change releases.</summary>
    /// <param name="state">The state, with all requested changes.</param>
    /// <param name="route">Its route.</param>
    /// <param name="place">Where the band is.</param>
    public static bool IsPossible(PerformanceState state, PerformanceRoute route, PerformancePlace place) =>
        state.Orders is { HoldFrom: not null } or { Loop: not null } || state.Orders.Break?.End > place.Next
        || (place.Index >= 0 && route.VampOf(place.Index) is not null);

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        var orders = state.Orders;
        if (orders.HoldFrom is { } hold)
        {
            return new ChangeResult(state.Ordered(held => Released(held, hold, place.Next)), "hold released", ChangeMoment.BarLine);
        }

        if (orders.Break is { } broken && broken.End > place.Next)
        {
            return new ChangeResult(state.Ordered(held => held with { Break = null }), "the band is back", ChangeMoment.BarLine);
        }

        var route = Route(state, place);
        if (orders.Loop is { } loop)
        {
            var free = state.Ordered(held => held with { Loop = null, LoopName = string.Empty });
            var last = Route(free, place).OrdinalBefore(loop.End, place.Index, Math.Max(0, place.Ordinal));
            return new ChangeResult(free, $"continuing after {orders.LoopName}", ChangeMoment.Later, last + 1);
        }

        if (place.Index >= 0 && route.VampOf(place.Index) is { } run)
        {
            var free = state.Ordered(held => held with { Released = held.Released.Add(run.Number) });
            var last = Route(free, place).OrdinalBefore(run.EndBar, place.Index, place.Ordinal);
            return new ChangeResult(free, $"continuing after {run.Section.Name}", ChangeMoment.Later, last + 1);
        }

        throw new ChangeRefusedException("nothing to release: the band is not waiting");
    }

    // The bars that passed during the hold do not count: what was planned for later keeps its distance from the held bar.
    private static FormOrders Released(FormOrders held, int hold, int next)
    {
        var by = Math.Max(0, next - hold - 1);
        return held with
        {
            HoldFrom = null,
            Jumps = held.Jumps.ToImmutableSortedDictionary(jump => jump.Key >= hold ? jump.Key + by : jump.Key, jump => jump.Value),
            Ramp = held.Ramp is { Bars: > 0 } ramp && ramp.FromOrdinal > hold ? ramp with { FromOrdinal = Math.Max(ramp.FromOrdinal, next) } : held.Ramp,
        };
    }
}

/// <summary>Ends after the current repetition.</summary>
public sealed record LastTime : FormChange
{
    internal static ChangeForm Form { get; } = new("last-time", "last-time", "end after this time through", (_, _) => new LastTime());

    /// <inheritdoc/>
    public override string Words => "last-time";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place) => Ended(state, place);

    internal static ChangeResult Ended(PerformanceState state, PerformancePlace place)
    {
        var end = EndOfRound(state, place);
        var next = state.Ordered(orders => Plain(orders) with { EndBar = end });
        if (state.Orders.Loop is { } loop && !loop.Contains(place.Index))
        {
            // A loop that has not started is played once.
            var (from, at) = (loop.From, place.Next);
            return new ChangeResult(next, $"{state.Orders.LoopName} once, then the end", ChangeMoment.Later, at + end - from, from);
        }

        var last = Route(next, place).OrdinalBefore(end, place.Index, Math.Max(0, place.Ordinal));
        return new ChangeResult(next, "last time", ChangeMoment.Later, last + 1);
    }
}

/// <summary>Holds the next downbeat until released.</summary>
public sealed record HoldDownbeat : FormChange
{
    internal static ChangeForm Form { get; } = new("hold", "hold", "hold the next downbeat until go-on", (_, _) => new HoldDownbeat());

    /// <inheritdoc/>
    public override string Words => "hold";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place) => new(
        state.Ordered(orders => orders with { HoldFrom = place.Next, Break = null }), "hold the downbeat", ChangeMoment.Later, place.Next);
}

/// <summary>Plays the last bars twice more, then ends.</summary>
/// <param name="Bars">Number of bars, 1 to 16.</param>
public sealed record PlayTag(int Bars) : FormChange
{
    private const int Most = 16;
    private const int Usual = 4;

    internal static ChangeForm Form { get; } = new(
        "tag",
        "tag 4",
        "play the last bars twice more, then end",
        (rest, _) => new PlayTag(rest.Length == 0 ? Usual : ChangeWords.Whole(rest, 1, Most, "a number of bars")))
    {
        StandsAlone = true,
    };

    /// <inheritdoc/>
    public override string Words => $"tag {ChangeWords.Plain(Bars)}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        var ended = LastTime.Ended(state, place).State;
        var end = ended.Orders.EndBar!.Value;
        var bars = Math.Min(Bars, end);
        var last = Route(ended, place).OrdinalBefore(end, place.Index, Math.Max(0, place.Ordinal))
            ?? throw new ChangeRefusedException("the band does not reach the end of the form, where the tag would start; leave the loop or vamp first");
        last = Math.Max(last, place.Next - 1);
        var next = ended.Ordered(orders => orders with
        {
            Jumps = orders.Jumps.Clear().Add(last, end - bars).Add(last + bars, end - bars),
        });
        return new ChangeResult(next, $"last time, the last {Wording.Words.Count(bars, "bar")} three times", ChangeMoment.Later, last + 1);
    }
}

/// <summary>Stops the band for some bars; tune and count continue.</summary>
/// <param name="Bars">Number of bars, 1 to 16.</param>
public sealed record BreakOff(int Bars) : FormChange
{
    private const int Most = 16;

    internal static ChangeForm Form { get; } = new(
        "break",
        "break 1",
        "stop the band for that many bars",
        (rest, _) => new BreakOff(rest.Length == 0 ? 1 : ChangeWords.Whole(rest, 1, Most, "a number of bars")))
    {
        StandsAlone = true,
    };

    /// <inheritdoc/>
    public override string Words => $"break {ChangeWords.Plain(Bars)}";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        var next = state.Ordered(orders => orders with { Break = (place.Next, place.Next + Bars), HoldFrom = null });
        return new ChangeResult(next, $"a break of {Wording.Words.Count(Bars, "bar")}", ChangeMoment.Later, place.Next);
    }
}

/// <summary>Restarts from the top, with or without a count-in.</summary>
public sealed record Restart : FormChange
{
    internal static ChangeForm Form { get; } = new("restart", "restart", "start again from the top", (_, _) => new Restart());

    /// <inheritdoc/>
    public override string Words => "restart";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place) =>
        new(state.Ordered(orders => FromTheTop(Plain(orders), state)), "from the top", ChangeMoment.BarLine, JumpTo: state.CountIn ? -1 : 0);

    private static FormOrders FromTheTop(FormOrders orders, PerformanceState state) =>
        orders with { Passes = orders.Passes is null ? null : state.Chart.Times, StartAt = null };
}

/// <summary>Goes back to the first bar of the current section at the next bar line.</summary>
public sealed record RepeatSection : FormChange
{
    internal static ChangeForm Form { get; } = new("again", "again", "this section again, at the next bar line", (_, _) => new RepeatSection());

    /// <inheritdoc/>
    public override string Words => "again";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        var run = state.BarAt(place).Run;
        return new ChangeResult(state.Ordered(Plain), $"{run.Section.Name} again", ChangeMoment.BarLine, JumpTo: run.FirstBar);
    }
}

/// <summary>Sets whether the form repeats without end or ends by itself, after as many times through as the chart says.</summary>
/// <param name="On">True or false; null to switch.</param>
public sealed record SetRound(bool? On) : FormChange
{
    internal static ChangeForm Form { get; } = new(
        "round", "round on | off", "the form repeats without end, or ends by itself", (rest, _) => new SetRound(ChangeWords.OnOff(rest)))
    { StandsAlone = true };

    /// <inheritdoc/>
    public override string Words => ChangeWords.Switched("round", On);

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        var pass = state.Plan.BarsInPass;
        var index = state.IndexAt(place);
        if (state.Orders.Passes * pass <= index)
        {
            throw new ChangeRefusedException("the form is ending already; restart plays it again");
        }

        if (On ?? state.Orders.Passes is not null)
        {
            return new ChangeResult(
                state.Ordered(orders => orders with { Passes = null, EndBar = null }), "the form repeats until last-time", ChangeMoment.BarLine);
        }

        var passes = Math.Max(state.Chart.Times, (index / pass) + 1);
        var left = passes - (index / pass);
        return new ChangeResult(
            state.Ordered(orders => orders with { Passes = passes }),
            left == 1 ? "the form ends after this time" : $"the form ends after {left} times",
            ChangeMoment.BarLine);
    }
}

/// <summary>Sets whether a restart counts in.</summary>
/// <param name="On">True or false; null to switch.</param>
public sealed record SetCountIn(bool? On) : FormChange
{
    internal static ChangeForm Form { get; } = new(
        "count-in", "count-in on | off", "whether a restart counts in", (rest, _) => new SetCountIn(ChangeWords.OnOff(rest)))
    { StandsAlone = true };

    /// <inheritdoc/>
    public override string Words => ChangeWords.Switched("count-in", On);

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place)
    {
        var on = On ?? !state.CountIn;
        return new ChangeResult(state with { CountIn = on }, on ? "a restart counts in" : "a restart does not count in", ChangeMoment.Kept);
    }
}
