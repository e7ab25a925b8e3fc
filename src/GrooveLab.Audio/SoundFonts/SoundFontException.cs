namespace GrooveLab.Audio.SoundFonts;

/// <summary>
/// A SoundFont bank that cannot be used, with the place of the error and the reason. Loading a bank and resolving a preset report
/// every fault of the file with this exception and no other.
/// </summary>
public sealed class SoundFontException : Exception
{
    /// <summary>A bank that cannot be used, without a place.</summary>
    public SoundFontException()
        : this("SoundFont bank", "cannot be used")
    {
    }

    /// <summary>A bank that cannot be used, without a place.</summary>
    public SoundFontException(string message)
        : this("SoundFont bank", message)
    {
    }

    /// <summary>A bank that cannot be used, without a place, and the cause.</summary>
    public SoundFontException(string message, Exception innerException)
        : this("SoundFont bank", message, innerException)
    {
    }

    /// <summary>A bank that cannot be used.</summary>
    /// <param name="place">The bank's name and, where known, the chunk and record: <c>bank.sf2: shdr record 12</c>.</param>
    /// <param name="reason">What is wrong.</param>
    public SoundFontException(string place, string reason)
        : this(place, reason, null)
    {
    }

    /// <summary>A bank that cannot be used, and the cause.</summary>
    public SoundFontException(string place, string reason, Exception? innerException)
        : base($"{place}: {reason}", innerException)
    {
        Place = place;
        Reason = reason;
    }

    /// <summary>The bank's name and, where known, the chunk and record.</summary>
    public string Place { get; }

    /// <summary>What is wrong.</summary>
    public string Reason { get; }
}
