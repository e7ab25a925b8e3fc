namespace GrooveLab.Exchange.Midi;

/// <summary>A file is not a readable Standard MIDI File; the message says where and why.</summary>
public sealed class MidiFileException : FormatException
{
    /// <summary>Creates the exception.</summary>
    public MidiFileException(string name, long offset, string reason)
        : base($"{name}: byte {offset}: {reason}")
    {
        Offset = offset;
        Reason = reason;
    }

    /// <summary>The offset in the file, in bytes from 0.</summary>
    public long Offset { get; }

    /// <summary>What is wrong there, and what is accepted.</summary>
    public string Reason { get; }
}
