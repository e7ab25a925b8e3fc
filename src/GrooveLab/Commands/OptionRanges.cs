using System.CommandLine;
using System.CommandLine.Parsing;
using System.Globalization;

namespace GrooveLab.Commands;

/// <summary>Numbers of options, with the range that is accepted said when one is outside.</summary>
internal static class OptionRanges
{
    /// <summary>A whole number in a range.</summary>
    public static void Whole(Option option, int least, int most) => option.Validators.Add(result =>
    {
        if (Text(result) is { } text
            && !(int.TryParse(text, NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out var value) && value >= least && value <= most))
        {
            result.AddError($"{option.Name}: '{text}' is not a whole number from {least} to {most}");
        }
    });

    /// <summary>A number in a range.</summary>
    public static void Number(Option option, double least, double most) => option.Validators.Add(result =>
    {
        if (Text(result) is { } text
            && !(double.TryParse(text, NumberStyles.Float, CultureInfo.InvariantCulture, out var value) && value >= least && value <= most))
        {
            result.AddError($"{option.Name}: '{text}' is not a number from {least} to {most}");
        }
    });

    // The text as it was typed: asking for the value of a text that is no number would throw.
    private static string? Text(OptionResult result) => result.Tokens.Count == 1 ? result.Tokens[0].Value : null;
}
