namespace GrooveLab.Music.Performance;

/// <summary>
/// Where the music was when a change was asked for. The log keeps it, because some changes refer to it (the section that plays now).
/// </summary>
/// <param name="Ordinal">The bar of the performance that is playing, from 0; -1 before the first.</param>
/// <param name="Index">Its number in the form, which repeats without end; -1 in the lead-in and before.</param>
/// <param name="Next">The bar of the performance at whose bar line a change can take effect at the earliest.</param>
public readonly record struct PerformancePlace(int Ordinal, int Index, int Next);

/// <summary>When a change takes effect.</summary>
public enum ChangeMoment
{
    /// <summary>With the next block of sound.</summary>
    Now,

    /// <summary>At the next bar line.</summary>
    BarLine,

    /// <summary>At the bar line of a later bar.</summary>
    Later,

    /// <summary>It is kept, and changes nothing that sounds.</summary>
    Kept,
}

/// <summary>A change that cannot be made; the message tells the player why, and what is accepted.</summary>
public sealed class ChangeRefusedException(string message) : Exception(message);
