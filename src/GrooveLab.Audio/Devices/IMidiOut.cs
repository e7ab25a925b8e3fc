namespace GrooveLab.Audio.Devices;

/// <summary>An open MIDI output. For one thread.</summary>
public interface IMidiOut : IDisposable
{
    /// <summary>
    /// Passes on as many bytes as fit, without waiting.
    /// </summary>
    /// <param name="bytes">Whole messages, or the rest of one.</param>
    /// <returns>The number of bytes taken; 0 if the port has no room now.</returns>
    /// <exception cref="IOException">The port is gone.</exception>
    int Write(ReadOnlySpan<byte> bytes);

    /// <summary>Forgets what the port has not sent yet, so that closing it does not wait for a port that hangs.</summary>
    void Discard();
}

/// <summary>An open MIDI input. For one thread.</summary>
public interface IMidiIn : IDisposable
{
    /// <summary>Waits for bytes.</summary>
    /// <param name="bytes">Receives them.</param>
    /// <param name="patience">The longest wait.</param>
    /// <returns>The number of bytes; 0 if none came.</returns>
    /// <exception cref="IOException">The port is gone.</exception>
    int Read(Span<byte> bytes, TimeSpan patience);
}

/// <summary>A MIDI port cannot be found or opened; the message says which, why, and what to do.</summary>
public sealed class MidiPortException : Exception
{
    /// <summary>Creates the exception.</summary>
    /// <param name="message">The message.</param>
    /// <param name="isMissing">Whether there is no such port, or the system has none; false if it exists and cannot be opened.</param>
    public MidiPortException(string message, bool isMissing)
        : base(message) => IsMissing = isMissing;

    /// <summary>Whether there is no such port.</summary>
    public bool IsMissing { get; }
}
