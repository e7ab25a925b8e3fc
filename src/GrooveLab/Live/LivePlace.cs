namespace GrooveLab.Live;

/// <summary>
/// Where a change was asked for. It is kept in the log, because what some changes mean depends on it (the section that plays now).
/// </summary>
/// <param name="Ordinal">The bar of the performance that is being played, from 0; -1 before the first.</param>
/// <param name="Index">Its number in the endless form; -1 in the lead-in and before.</param>
/// <param name="Next">The bar of the performance whose line comes next and is far enough away for a change.</param>
internal readonly record struct LivePlace(int Ordinal, int Index, int Next);

/// <summary>When a change takes effect.</summary>
internal enum LiveMoment
{
    /// <summary>With the next block of sound.</summary>
    Now,

    /// <summary>At the next bar line.</summary>
    BarLine,

    /// <summary>At the line of a bar further on.</summary>
    Later,

    /// <summary>Nothing of it is heard by itself.</summary>
    Kept,
}

/// <summary>A change that cannot be made, in words for the player.</summary>
internal sealed class LiveRefusal(string message) : Exception(message);
