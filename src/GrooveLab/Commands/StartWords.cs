using System.CommandLine;
using GrooveLab.Inputs;
using GrooveLab.Music.Harmony;

namespace GrooveLab.Commands;

/// <summary>
/// The words of the screen on the command line: <c>play song.toml tempo 80%</c> is <c>play song.toml --tempo 80%</c>, and <c>learner</c> is
/// <c>--tempo learner</c>.
/// </summary>
internal static class StartWords
{
    private const string Learner = TypedWords.Learner;

    // The most words that the value of each can have.
    private static readonly Dictionary<string, int> Options = new(StringComparer.Ordinal) { ["tempo"] = 4, ["key"] = 2, ["up"] = 3, ["feel"] = 1 };

    /// <summary>The words, in order.</summary>
    public static IReadOnlyList<string> All { get; } = [.. Options.Keys, Learner];

    private static readonly HashSet<string> Modes = new(StringComparer.OrdinalIgnoreCase)
    {
        "major", "minor", "dorian", "phrygian", "lydian", "mixolydian", "aeolian", "locrian", "ionian",
    };

    /// <summary>The arguments with these words as options. A word that stands after an option, or names a file, stays.</summary>
    /// <param name="args">The arguments, with a command.</param>
    public static string[] AsOptions(string[] args)
    {
        // Nearly every command line has none of these words, and each look at the options creates the command, which slows the start.
        if (args.Length < 3 || !Takes(args[0]) || !Array.Exists(args, word => word == Learner || Options.ContainsKey(word)))
        {
            return args;
        }

        // The command and its first argument.
        var words = new List<string>(args[..2]);
        for (var i = 2; i < args.Length; i++)
        {
            var word = args[i];
            if (NeedsValue(args[0], args[i - 1]) || File.Exists(word))
            {
                words.Add(word);
            }
            else if (word == Learner)
            {
                words.AddRange(["--tempo", Learner]);
            }
            else if (Options.TryGetValue(word, out var most))
            {
                var value = Value(word, args.AsSpan(i + 1, Math.Min(most, args.Length - i - 1)));
                words.Add("--" + word);
                if (value.Length > 0)
                {
                    words.Add(string.Join(' ', value.ToArray()));
                }

                i += value.Length;
            }
            else
            {
                words.Add(word);
            }
        }

        return [.. words];
    }

    /// <summary>What completes the words of a command line: these words after its first argument, and their values after one of them.</summary>
    /// <param name="before">The words before the one being typed, with the command.</param>
    /// <returns>The option whose value is typed now, or null, and the words that can stand there.</returns>
    public static (string? Option, IReadOnlyList<string> Words) Following(IReadOnlyList<string> before)
    {
        if (before.Count < 2 || !Takes(before[0]) || NeedsValue(before[0], before[^1]))
        {
            return (null, []);
        }

        if (before.Count > 2 && Options.ContainsKey(before[^1]) && !NeedsValue(before[0], before[^2]))
        {
            return ("--" + before[^1], []);
        }

        return (null, [.. All.Where(word => !before.Contains(word, StringComparer.Ordinal)
            && !before.Contains(word == Learner ? "--tempo" : "--" + word, StringComparer.Ordinal)
            && !(word is Learner or "tempo" && before.Any(other => other is Learner or "tempo")))]);
    }

    private static bool Takes(string command) => command is "play" or "render" or "show" or "export" or "inspect";

    // Whether a word is the value of the option before it.
    private static bool NeedsValue(string command, string before) =>
        before.Length > 1 && before[0] == '-' && !char.IsAsciiDigit(before[1]) && !before.Contains('=', StringComparison.Ordinal)
        && CommandLine.Root(command).Subcommands.First(known => known.Name == command).Options
            .FirstOrDefault(option => option.Name == before || option.Aliases.Contains(before))?.ValueType != typeof(bool);

    // "a tone", "a half step".
    private static int LengthOfDistance(ReadOnlySpan<string> next)
    {
        for (var length = next.Length; length > 1; length--)
        {
            if (HalfSteps.TryParse(string.Join(' ', next[..length]), out _))
            {
                return length;
            }
        }

        return 0;
    }

    // The words that belong to the value: "bar = 45", "by -4", "D dorian", "80%".
    private static ReadOnlySpan<string> Value(string word, ReadOnlySpan<string> next)
    {
        var sign = next.IndexOf("=");
        return next.IsEmpty ? next
            : word == "tempo" && sign is 1 or 2 && sign + 1 < next.Length ? next[..(sign + 2)]
            : word == "tempo" && next[0] == "by" && next.Length > 1 ? next[..2]
            : word == "up" && LengthOfDistance(next) is > 0 and var words ? next[..words]
            : word == "key" && next.Length > 1 && Modes.Contains(next[1]) ? next[..2]
            : next[..1];
    }
}
