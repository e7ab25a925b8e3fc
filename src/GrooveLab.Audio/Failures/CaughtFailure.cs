namespace GrooveLab.Audio.Failures;

/// <summary>A failure that was caught, and how often it happened. Immutable.</summary>
/// <param name="Doing">What the program was doing: "composing a bar".</param>
/// <param name="Kind">The exception's type without its namespace; empty if there was no exception.</param>
/// <param name="Message">The message of the first one, on one line.</param>
/// <param name="Place">The method that threw the first one; empty if unknown.</param>
/// <param name="Details">The first one with its stack, for a log; shortened if it is long.</param>
/// <param name="Count">How often it happened, from 1.</param>
public sealed record CaughtFailure(string Doing, string Kind, string Message, string Place, string Details, long Count)
{
    /// <summary>True when what failed has worked since.</summary>
    public bool IsOver { get; init; }

    /// <summary>"composing a bar: no such chord (3 times)".</summary>
    public override string ToString() => Count == 1 ? $"{Doing}: {Message}" : $"{Doing}: {Message} ({Count} times)";
}
