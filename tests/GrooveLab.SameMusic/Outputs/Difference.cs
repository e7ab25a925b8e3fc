namespace GrooveLab.SameMusic.Outputs;

/// <summary>A place at which two outputs differ.</summary>
/// <param name="Path">The kind of place, the same for all of that kind: in JSON the path without indices
/// (<c>bars[].events[].velocity</c>); empty if the output is a whole.</param>
/// <param name="Where">The place, for display.</param>
/// <param name="Base">The value in the base.</param>
/// <param name="Current">The value in the current program.</param>
internal sealed record Difference(string Path, string Where, string Base, string Current)
{
    public override string ToString() => $"{Where}: {Base} in the base, {Current} now";
}
