using System.Runtime.CompilerServices;
using GrooveLab.Music.Performance;

namespace GrooveLab.Store;

/// <summary>A state that can be written as a chart, near one that cannot.</summary>
/// <param name="State">The state.</param>
/// <param name="Text">Its text.</param>
/// <param name="Without">The changes that it lacks, in words; empty if it is the state itself.</param>
/// <param name="Reason">Why the first of them cannot be written; null if it lacks none.</param>
internal sealed record WritableState(PerformanceState State, string Text, IReadOnlyList<string> Without, Exception? Reason);

/// <summary>Finds what of a performance can be written: if a change cannot, the later ones are made without it. Remembers what it has found.
/// For one thread at a time.</summary>
/// <param name="write">Writes a state; throws if it cannot be written.</param>
internal sealed class WritableStates(Func<PerformanceState, string> write)
{
    private readonly ConditionalWeakTable<PerformanceState, WritableState> _found = [];

    /// <summary>The state itself, or the nearest one.</summary>
    /// <param name="now">The state.</param>
    /// <param name="past">The changes that led to it.</param>
    /// <returns>Null if not even the first state can be written.</returns>
    public WritableState? Near(PerformanceState now, IReadOnlyList<PastChange> past)
    {
        // Back to the newest state that is known or can be written.
        WritableState? near = null;
        Exception? reason = null;
        var at = past.Count;
        for (; at >= 0 && near is null; at--)
        {
            near = Known(at < past.Count ? past[at].Before : now, ref reason);
        }

        if (near is null)
        {
            return null;
        }

        for (at++; at < past.Count; at++)
        {
            near = With(near, past[at], reason!);
            _found.AddOrUpdate(at + 1 < past.Count ? past[at + 1].Before : now, near);
        }

        return near;
    }

    private WritableState? Known(PerformanceState state, ref Exception? reason)
    {
        if (_found.TryGetValue(state, out var found))
        {
            return found;
        }

        try
        {
            return new WritableState(state, write(state), [], null);
        }
#pragma warning disable CA1031 // The caller records why, with what could be written instead.
        catch (Exception failure)
#pragma warning restore CA1031
        {
            reason = failure;
            return null;
        }
    }

    private WritableState With(WritableState near, PastChange change, Exception reason)
    {
        if (change.Made is { } made)
        {
            try
            {
                var state = made.ApplyTo(near.State, change.Place).State;
                return near with { State = state, Text = write(state) };
            }
#pragma warning disable CA1031 // The caller records why, with what could be written instead.
            catch (Exception failure)
#pragma warning restore CA1031
            {
                reason = failure;
            }
        }

        return near with { Without = [.. near.Without, change.Says], Reason = near.Reason ?? reason };
    }
}
