namespace GrooveLab.Music.Performance;

/// <summary>The place in the music when a change was requested. The log records it because some changes refer to it (the current
/// section).</summary>
/// <param name="Ordinal">The bar of the performance playing, from 0; -1 before the first.</param>
/// <param name="Index">Its number in the form, which repeats without end; -1 in the lead-in and before.</param>
/// <param name="Next">The earliest bar of the performance at whose bar line a change can take effect.</param>
public readonly record struct PerformancePlace(int Ordinal, int Index, int Next);

/// <summary>Where a performance starts again after its end or a stop.</summary>
/// <param name="Bar">The bar's number in the form, which repeats without end.</param>
/// <param name="Pass">Which time through the form it belongs to, from 0.</param>
/// <param name="CountIn">True to count in.</param>
/// <param name="KeepsOrders">True to keep what belongs to bars by their numbers: a loop, released vamps and an end ahead. False to start with the
/// form as written.</param>
public sealed record StartPoint(int Bar, int Pass, bool CountIn, bool KeepsOrders)
{
    /// <summary>The bar of the old performance that it would have been, by its ordinal: a gradual change of tempo that was not over there goes on
    /// from there. Null to start at its final tempo.</summary>
    public int? Ordinal { get; init; }

    /// <summary>From the top.</summary>
    public static StartPoint Top(bool countIn) => new(0, 0, countIn, KeepsOrders: false);

    /// <summary>The first bar of the first playing of a section.</summary>
    /// <exception cref="ChangeRefusedException">The form has no such section; the message names those that it has.</exception>
    public static int FirstBarOf(string section, PerformanceState state) => FormChange.FirstBarOf(section, state, 0);

    /// <summary>At a bar, with what belongs to bars by their numbers. A bar after the end of the form becomes the top.</summary>
    public static StartPoint At(int bar, PerformanceState state, bool countIn)
    {
        var pass = bar / state.Plan.BarsInPass;
        return bar < 0 || state.Orders.Passes <= pass || state.Orders.EndBar <= bar ? Top(countIn) : new StartPoint(bar, pass, countIn, KeepsOrders: true);
    }

    /// <summary>The same start in a gradual change of tempo that was not over where the music stopped: at the tempo that this bar has in it.</summary>
    /// <param name="state">The state.</param>
    /// <param name="ordinal">The bar of the performance that played last.</param>
    /// <param name="index">Its number in the form; -1 for the lead-in and before.</param>
    public StartPoint InRamp(PerformanceState state, int ordinal, int index)
    {
        var at = Math.Max(0, ordinal) + Bar - (index >= 0 ? index : (state.Orders.StartAt ?? 0) - 1);
        return state.Orders.Ramp is { Bars: > 0 } ramp && ordinal < ramp.EndOrdinal && at < ramp.EndOrdinal ? this with { Ordinal = at } : this;
    }
}

/// <summary>When a change takes effect.</summary>
public enum ChangeMoment
{
    /// <summary>With the next audio block.</summary>
    Now,

    /// <summary>At the next bar line.</summary>
    BarLine,

    /// <summary>At the bar line of a later bar.</summary>
    Later,

    /// <summary>Saved only; the sound does not change.</summary>
    Kept,
}

/// <summary>A change that cannot be applied; the message says why and what is accepted.</summary>
public sealed class ChangeRefusedException(string message) : Exception(message);
