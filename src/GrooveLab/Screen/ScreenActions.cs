using System.Globalization;
using GrooveLab.Music.Performance;
using GrooveLab.Music.Wording;
using GrooveLab.Store;

namespace GrooveLab.Screen;

/// <summary>An action of the screen, as typed or bound.</summary>
/// <param name="Usage">Its usage, "start here | section | top | NAME".</param>
/// <param name="Does">What it does, in a few words.</param>
internal sealed record ScreenAction(string Usage, string Does)
{
    /// <summary>Its first word.</summary>
    public string Verb => Usage.Split(' ')[0];
}

/// <summary>The words that a key or pedal can be bound to: actions of the screen, and changes.</summary>
internal static class ScreenActions
{
    /// <summary>Taps the rhythm of the words; while it is tapped, the key for the next syllable.</summary>
    public const string TapWords = "tap-words";

    /// <summary>The views that one key goes through.</summary>
    public static readonly string[] Views = ["band", "words", "chords"];

    /// <summary>Where the music can start, besides a section's name.</summary>
    public static readonly string[] StartPlaces = ["here", "section", "top"];

    /// <summary>Whether the music counts in, at the end of a start.</summary>
    public static readonly string[] CountIns = ["count-in", "no-count-in"];

    // Without arguments.
    private static readonly string[] Alone =
    [
        "tap", "faster", "slower", "mute", "solo", "louder", "softer", "more", "back", "discard", "redraw", "quit", "stop", "stop-start", "next",
        "previous",
    ];

    // With or without arguments.
    private static readonly string[] Open = ["type", "save", "start", TapWords];

    /// <summary>The actions that are typed as well as bound, in help order. <see cref="Verbs"/> has the others too.</summary>
    public static IReadOnlyList<ScreenAction> Forms { get; } =
    [
        new("stop", "stop; the screen stays, and start plays again"),
        new("start here | section | top | NAME", "play after a stop or the end (then: count-in, no-count-in)"),
        new("stop-start", "stop, or start here"),
        new("next", "the next song of the set"), new("previous", "the song before"), new("song 3 | TITLE", "a song of the set"),
        new("view band | words | chords", "large words to sing from, or large chords"),
        new("words LINE", "large words of another line, such as a second voice; words tune: of the tune"),
        new("tap-words NAME", "tap the rhythm of a section's words while the band plays; without a name, of this section"),
        new("save FILE", "save the chart to another file"), new("save anyway", "replace a file that changed or exists"),
        new("discard", "delete earlier unsaved changes"), new("open FILE", "play another chart"), new("redraw", "draw the screen again"),
        new("quit", "leave"),
    ];

    /// <summary>All actions of the screen by their first word.</summary>
    public static IReadOnlyList<string> Verbs { get; } = [.. Alone, .. Open, "part", "all", "open", "song", "view", "words"];

    /// <summary>True for an action of the screen that takes no arguments.</summary>
    public static bool StandsAlone(string verb) => Alone.Contains(verb, StringComparer.Ordinal) && !IsChange(verb);

    private static bool IsChange(string verb) => ChangeWords.All.Any(form => string.Equals(form.Verb, verb, StringComparison.OrdinalIgnoreCase));

    /// <summary>Says what is wrong with an action; null if it is accepted. Names of parts and sections depend on the chart and are not checked.</summary>
    public static ActionProblem? Problem(string action)
    {
        var gap = action.IndexOf(' ', StringComparison.Ordinal);
        var (verb, rest) = gap < 0 ? (action, string.Empty) : (action[..gap], action[(gap + 1)..]);
        return verb switch
        {
            "part" => int.TryParse(rest, NumberStyles.None, CultureInfo.InvariantCulture, out var number) && number > 0
                ? null
                : new ActionProblem($"{Words.Quote(action)} does not select a part", "write part with a number from 1: \"part 1\""),
            "all" => rest is "louder" or "softer" ? null : new ActionProblem(
                $"{Words.Quote(action)} is not an action", $"{Words.Meant(Words.Nearest(rest, ["louder", "softer"]))}write \"all louder\" or \"all softer\""),
            "open" => rest.Length > 0 ? null : new ActionProblem("'open' needs a file", "write \"open FILE\""),
            "song" => rest.Length > 0 ? null : new ActionProblem("'song' needs a number or a title", "write \"song 3\""),
            "words" => rest.Length > 0 ? null : new ActionProblem("'words' needs the name of a line", "write \"words second voice\" or \"words tune\""),
            "view" => rest.Length == 0 || Views.Contains(rest, StringComparer.Ordinal)
                ? null
                : new ActionProblem($"{Words.Quote(action)} is not an action", $"{Words.Meant(Words.Nearest(rest, Views))}write \"view\", \"view band\", \"view words\" or \"view chords\""),
            "quit" when rest == "now" => null,
            _ when Open.Contains(verb, StringComparer.Ordinal) => null,
            _ when Alone.Contains(verb, StringComparer.Ordinal) && (rest.Length == 0 || !IsChange(verb)) => rest.Length == 0
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
