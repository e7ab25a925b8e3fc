using System.CommandLine;
using System.CommandLine.Parsing;
using System.Globalization;

namespace GrooveLab.Commands;

/// <summary>Range checks for the numbers of options.</summary>
internal static class OptionRanges
{
    /// <summary>Accepts a whole number in a range, inclusive.</summary>
    public static void Whole(Option option, int least, int most) => option.Validators.Add(result =>
    {
        if (Text(result) is { } text
            && !(int.TryParse(text, NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out var value) && value >= least && value <= most))
        {
            result.AddError($"{option.Name} must be a whole number from {least} to {most}, not '{text}'");
        }
    });

    /// <summary>Accepts a distance in half steps in a range, inclusive, as <see cref="Music.Harmony.HalfSteps"/> reads it.</summary>
    public static void HalfSteps(Option option, int least, int most) => option.Validators.Add(result =>
    {
        if (Text(result) is { } text && !(Music.Harmony.HalfSteps.TryParse(text, out var value) && value >= least && value <= most))
        {
            result.AddError($"{option.Name} must be a whole number from {least} to {most}, a tone or a semitone, not '{text}'");
        }
    });

    /// <summary>Accepts a number in a range, inclusive.</summary>
    public static void Number(Option option, double least, double most) => option.Validators.Add(result =>
    {
        if (Text(result) is { } text
            && !(double.TryParse(text, NumberStyles.Float, CultureInfo.InvariantCulture, out var value) && value >= least && value <= most))
        {
            result.AddError($"{option.Name} must be a number from {least} to {most}, not '{text}'");
        }
    });

    // The text as typed, because reading the value throws if the text is not a number.
    private static string? Text(OptionResult result) => result.Tokens.Count == 1 ? result.Tokens[0].Value : null;
}
