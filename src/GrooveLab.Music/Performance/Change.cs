using GrooveLab.Music.Charts;

namespace GrooveLab.Music.Performance;

/// <summary>
/// Something that a player, a pedal, a drill or a replay does to a performance: one record for each kind. Immutable; it says itself in words
/// that <see cref="ChangeWords.Read"/> reads back as an equal record. What it refers to (a bar, a section) is found where it is made.
/// </summary>
public abstract record Change
{
    /// <summary>The change in words, as it is typed, kept in the log and shown.</summary>
    public abstract string Words { get; }

    /// <summary>The change in words.</summary>
    public sealed override string ToString() => Words;

    /// <summary>Makes it in a performance.</summary>
    /// <exception cref="ChangeRefusedException">It cannot be made; nothing has changed.</exception>
    internal abstract HistoryStep MakeIn(PerformanceHistory history, PerformancePlace place);
}

/// <summary>A change that makes one state of a performance into another; pure, so undo takes the old state again.</summary>
public abstract record StateChange : Change
{
    /// <summary>What it comes to.</summary>
    /// <exception cref="ChangeRefusedException">It cannot be made there; the message says why and what is accepted.</exception>
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
            throw new ChangeRefusedException("that leads to fractions too fine to count exactly; use simpler numbers");
        }
    }

    internal override HistoryStep MakeIn(PerformanceHistory history, PerformancePlace place) => history.Make(ApplyTo(history.State, place), place);

    private protected abstract ChangeResult Apply(PerformanceState state, PerformancePlace place);
}

/// <summary>What a change comes to.</summary>
/// <param name="State">The state after it.</param>
/// <param name="Says">What it is, told to the player.</param>
/// <param name="Moment">When it takes effect.</param>
/// <param name="At">With <see cref="ChangeMoment.Later"/>, the bar of the performance at whose bar line it takes effect; else null.</param>
/// <param name="JumpTo">The bar at which playing goes on from the next bar line; null to go on where it is.</param>
public sealed record ChangeResult(PerformanceState State, string Says, ChangeMoment Moment, int? At = null, int? JumpTo = null);

/// <summary>How a kind of change is written: everything that parser, help and completion know of it.</summary>
/// <param name="Verb">Its first word.</param>
/// <param name="Usage">How it is written, with examples: "meter 7/8 2+2+3".</param>
/// <param name="Does">What it does, in a few words.</param>
/// <param name="Read">Reads what follows the verb, with the names that the state knows.</param>
public sealed record ChangeForm(string Verb, string Usage, string Does, Func<string, PerformanceState, Change> Read)
{
    /// <summary>True when the verb alone means something, too.</summary>
    public bool StandsAlone { get; init; } = Usage == Verb;
}
