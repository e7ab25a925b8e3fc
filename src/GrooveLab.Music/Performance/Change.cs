using GrooveLab.Music.Charts;

namespace GrooveLab.Music.Performance;

/// <summary>A change to a performance, by a player, a pedal, a drill or a replay: one record per kind. Immutable; its words can be read
/// back by <see cref="ChangeWords.Read"/> as an equal record. References (a bar, a section) are resolved when it is applied.</summary>
public abstract record Change
{
    /// <summary>The change in words, as typed, logged and shown.</summary>
    public abstract string Words { get; }

    /// <summary>The change in words.</summary>
    public sealed override string ToString() => Words;

    /// <summary>The same change for one section only; null for a change that cannot be limited to a section, or already is.</summary>
    public virtual StateChange? LimitedTo(ChangeScope section) => null;

    /// <summary>Applies it to a performance.</summary>
    /// <exception cref="ChangeRefusedException">It cannot be applied; nothing has changed.</exception>
    internal abstract HistoryStep MakeIn(PerformanceHistory history, PerformancePlace place);
}

/// <summary>A change from one state of a performance to another; pure, so undo restores the old state.</summary>
public abstract record StateChange : Change
{
    /// <summary>Its result.</summary>
    /// <exception cref="ChangeRefusedException">It cannot be applied there; the message says why and what is accepted.</exception>
    public ChangeResult ApplyTo(PerformanceState state, PerformancePlace place)
    {
        try
        {
            return Apply(state, place);
        }
        catch (ChartProblemException problem)
        {
            throw new ChangeRefusedException(problem.Message);
        }
        catch (OverflowException)
        {
            throw new ChangeRefusedException("these numbers cannot be combined exactly; use simpler numbers");
        }
    }

    internal override HistoryStep MakeIn(PerformanceHistory history, PerformancePlace place) => history.Make(ApplyTo(history.State, place), place, this);

    private protected abstract ChangeResult Apply(PerformanceState state, PerformancePlace place);
}

/// <summary>The result of a change.</summary>
/// <param name="State">The state after it.</param>
/// <param name="Says">The message for the player.</param>
/// <param name="Moment">When it takes effect.</param>
/// <param name="At">With <see cref="ChangeMoment.Later"/>, the bar of the performance at whose bar line it takes effect; otherwise
/// null.</param>
/// <param name="JumpTo">The bar that follows the next bar line; null to continue without a jump.</param>
public sealed record ChangeResult(PerformanceState State, string Says, ChangeMoment Moment, int? At = null, int? JumpTo = null);

/// <summary>The syntax of a kind of change, used by parser, help and completion.</summary>
/// <param name="Verb">Its first word.</param>
/// <param name="Usage">Its usage, with examples: "meter 7/8 2+2+3".</param>
/// <param name="Does">What it does, in a few words.</param>
/// <param name="Read">Reads the text after the verb, with the names in the state.</param>
public sealed record ChangeForm(string Verb, string Usage, string Does, Func<string, PerformanceState, Change> Read)
{
    /// <summary>True when the verb alone is also valid.</summary>
    public bool StandsAlone { get; init; } = Usage == Verb;
}
