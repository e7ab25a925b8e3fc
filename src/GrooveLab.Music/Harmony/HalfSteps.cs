using System.Globalization;

namespace GrooveLab.Music.Harmony;

/// <summary>A distance in half steps as musicians write it: a number, "a tone", "a semitone".</summary>
public static class HalfSteps
{
    private const int InTone = 2;

    /// <summary>Reads a distance: a whole number with or without a sign, "tone" or "whole step", "semitone" or "half step", each with or
    /// without "a".</summary>
    /// <param name="text">The text, in small or capital letters.</param>
    /// <param name="steps">The number of half steps; 0 if the text is no distance.</param>
    public static bool TryParse(string text, out int steps)
    {
        var words = text.ToLowerInvariant().Split(' ', StringSplitOptions.RemoveEmptyEntries);
        steps = string.Join(' ', words is ["a", ..] ? words[1..] : words) switch
        {
            "tone" or "whole step" or "whole tone" => InTone,
            "semitone" or "half step" => 1,
            _ => 0,
        };
        return steps != 0 || int.TryParse(text, NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out steps);
    }
}
