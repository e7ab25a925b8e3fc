namespace GrooveLab.Exchange.Midi;

/// <summary>Something in a file that the specification does not allow and that was read all the same.</summary>
/// <param name="Offset">The byte of the file, from 0.</param>
/// <param name="Reason">What is wrong there, and how it was read.</param>
public readonly record struct MidiWarning(long Offset, string Reason)
{
    /// <summary>As the user reads it: <c>byte 22: track 1 has no end-of-track event</c>.</summary>
    public override string ToString() => FormattableString.Invariant($"byte {Offset}: {Reason}");
}
