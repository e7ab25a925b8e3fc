namespace GrooveLab.SameMusic.Outputs;

/// <summary>A place at which two outputs differ.</summary>
/// <param name="Path">
/// What kind of place it is, the same for all of the kind: in JSON the path without its indices (<c>bars[].events[].velocity</c>); empty where
/// the output is a whole.
/// </param>
/// <param name="Where">The place, for a reader.</param>
/// <param name="Base">What the base has there.</param>
/// <param name="Current">What the current program has there.</param>
internal sealed record Difference(string Path, string Where, string Base, string Current)
{
    public override string ToString() => $"{Where}: {Base} in the base, {Current} now";
}
