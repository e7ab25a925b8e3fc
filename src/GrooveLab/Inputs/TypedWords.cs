using System.Text.RegularExpressions;

namespace GrooveLab.Inputs;

/// <summary>The command line as typed, for messages that name its words.</summary>
internal static partial class TypedWords
{
    /// <summary>The word for the chart's slower tempo.</summary>
    public const string Learner = "learner";

    private static readonly AsyncLocal<string[]?> Typed = new();

    // The words that are options too.
    private static readonly HashSet<string> Options = new(StringComparer.Ordinal) { "tempo", "key", "up", "feel" };

    /// <summary>Remembers the command line for <see cref="AsTyped"/>.</summary>
    public static void Remember(string[] args) => Typed.Value = args;

    /// <summary>True if the command line that was read last has a word, alone or as the value of an option.</summary>
    /// <param name="word">The word.</param>
    public static bool IsTyped(string word) => Array.Exists(Typed.Value ?? [], typed => typed == word || typed.EndsWith('=' + word, StringComparison.Ordinal));

    /// <summary>A message with the options as they were typed: a word without dashes where the command line has the word.</summary>
    /// <param name="message">What is wrong with the command line that was read last.</param>
    public static string AsTyped(string message)
    {
        var typed = Typed.Value ?? [];
        return Option().Replace(message, found =>
        {
            var (option, word) = (found.Groups["option"].Value, found.Groups["option"].Value[2..]);
            if (found.Groups["learner"].Success && typed.Contains(Learner) && !IsTypedAs(option))
            {
                return Learner;
            }

            // Both may have been typed.
            return Options.Contains(word) && typed.Contains(word) && !IsTypedAs(option) ? word + found.Groups["learner"].Value : found.Value;
        });

        bool IsTypedAs(string option) => Array.Exists(typed, other => other == option || other.StartsWith(option + "=", StringComparison.Ordinal));
    }

    // An option as the message names it: a whole word outside quotation marks.
    [GeneratedRegex("(?<=^|[ (])(?<option>--[a-z]+)(?<learner> learner(?![a-z]))?(?=$|[ ,:;.)])", RegexOptions.CultureInvariant | RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex Option();
}
