using System.Globalization;
using GrooveLab.Music.Performance;
using GrooveLab.Music.Wording;
using GrooveLab.Store;

namespace GrooveLab.Screen;

/// <summary>The words that a key or pedal can be bound to: actions of the screen, and changes.</summary>
internal static class ScreenActions
{
    // Without arguments.
    private static readonly string[] Alone = ["tap", "faster", "slower", "mute", "solo", "louder", "softer", "more", "back", "discard", "redraw", "quit"];

    // With or without arguments.
    private static readonly string[] Open = ["type", "save"];

    /// <summary>All actions of the screen by their first word.</summary>
    public static IReadOnlyList<string> Verbs { get; } = [.. Alone, .. Open, "part", "all", "open"];

    /// <summary>Says what is wrong with an action; null if it is accepted. Names of parts and sections depend on the chart and are not checked.</summary>
    public static ActionProblem? Problem(string action)
    {
        var gap = action.IndexOf(' ', StringComparison.Ordinal);
        var (verb, rest) = gap < 0 ? (action, string.Empty) : (action[..gap], action[(gap + 1)..]);
        var isChange = ChangeWords.All.Any(form => string.Equals(form.Verb, verb, StringComparison.OrdinalIgnoreCase));
        return verb switch
        {
            "part" => int.TryParse(rest, NumberStyles.None, CultureInfo.InvariantCulture, out var number) && number > 0
                ? null
                : new ActionProblem($"{Words.Quote(action)} does not select a part", "write part with a number from 1: \"part 1\""),
            "all" => rest is "louder" or "softer" ? null : new ActionProblem($"{Words.Quote(action)} is not an action", "write \"all louder\" or \"all softer\""),
            "open" => rest.Length > 0 ? null : new ActionProblem("'open' needs a file", "write \"open FILE\""),
            "quit" when rest == "now" => null,
            _ when Open.Contains(verb, StringComparer.Ordinal) => null,
            _ when Alone.Contains(verb, StringComparer.Ordinal) && (rest.Length == 0 || !isChange) => rest.Length == 0
                ? null
                : new ActionProblem($"'{verb}' takes no arguments", $"write \"{verb}\""),
            _ => ChangeProblem(verb, rest),
        };
    }

    private static ActionProblem? ChangeProblem(string verb, string rest)
    {
        var form = ChangeWords.All.FirstOrDefault(known => string.Equals(known.Verb, verb, StringComparison.OrdinalIgnoreCase));
        if (form is null)
        {
            return new ActionProblem(
                $"unknown action {Words.Quote(verb)}",
                Words.Nearest(verb, ChangeWords.All.Select(known => known.Verb).Concat(Verbs)) is { } near
                    ? $"did you mean {near}?"
                    : $"an action is a change in words, such as \"mute bass\", or one of {Words.And([.. Verbs.Order(StringComparer.Ordinal)])}");
        }

        return rest.Length == 0 && !form.StandsAlone ? new ActionProblem($"'{form.Verb}' is incomplete", $"usage: {form.Usage}")
            : rest.Length > 0 && form.Usage == form.Verb ? new ActionProblem($"'{form.Verb}' takes no arguments", $"write \"{form.Verb}\"")
            : null;
    }
}
