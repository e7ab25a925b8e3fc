namespace GrooveLab.Audio.Failures;

/// <summary>A failure that was caught and survived, with how often it has come. Immutable.</summary>
/// <param name="Doing">What was being done, as a heading: "composing a bar".</param>
/// <param name="Kind">The exception's type without its namespace; empty where nothing was thrown.</param>
/// <param name="Message">What the first one said, on one line.</param>
/// <param name="Place">The method that threw the first one; empty where that is not known.</param>
/// <param name="Details">The first one in full, with its stack, for a log; cut where it is long.</param>
/// <param name="Count">How often it has come, from 1.</param>
public sealed record CaughtFailure(string Doing, string Kind, string Message, string Place, string Details, long Count)
{
    /// <summary>"composing a bar: no such chord (3 times)".</summary>
    public override string ToString() => Count == 1 ? $"{Doing}: {Message}" : $"{Doing}: {Message} ({Count} times)";
}
