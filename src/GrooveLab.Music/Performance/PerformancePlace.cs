namespace GrooveLab.Music.Performance;

/// <summary>The place in the music when a change was requested. The log records it because some changes refer to it (the current
/// section).</summary>
/// <param name="Ordinal">The bar of the performance playing, from 0; -1 before the first.</param>
/// <param name="Index">Its number in the form, which repeats without end; -1 in the lead-in and before.</param>
/// <param name="Next">The earliest bar of the performance at whose bar line a change can take effect.</param>
public readonly record struct PerformancePlace(int Ordinal, int Index, int Next);

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
