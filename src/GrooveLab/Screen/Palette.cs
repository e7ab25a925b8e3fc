using Terminal.Gui.Drawing;
using Attribute = Terminal.Gui.Drawing.Attribute;

namespace GrooveLab.Screen;

/// <summary>The number of colours used.</summary>
internal enum Colours
{
    /// <summary>None: bold and reversed text only.</summary>
    None,

    /// <summary>The terminal's own sixteen.</summary>
    Sixteen,

    /// <summary>Full colour.</summary>
    Full,
}

/// <summary>The looks of the inks for a terminal.</summary>
internal sealed class Palette
{
    private readonly Attribute[] _looks;

    /// <param name="colours">The number of colours.</param>
    public Palette(Colours colours)
    {
        _looks = [.. Enum.GetValues<Ink>().Select(ink => Look(ink, colours))];
    }

    /// <summary>
    /// The choice by the environment: none for NO_COLOR (any value) or a terminal without colours, full for COLORTERM=truecolor or 24bit,
    /// otherwise sixteen.
    /// </summary>
    public static Colours FromEnvironment() => From(Environment.GetEnvironmentVariable);

    /// <summary>The same for any environment.</summary>
    internal static Colours From(Func<string, string?> variable) =>
        variable("NO_COLOR") is { Length: > 0 } || IsColourless(variable("TERM") ?? string.Empty) ? Colours.None
        : variable("COLORTERM") is "truecolor" or "24bit" ? Colours.Full
        : Colours.Sixteen;

    // The video terminals of that name, and names that say monochrome. From memory of the terminal database.
    private static bool IsColourless(string terminal) =>
        terminal.StartsWith("vt", StringComparison.Ordinal) || terminal.EndsWith("-m", StringComparison.Ordinal)
        || terminal.EndsWith("-mono", StringComparison.Ordinal);

    /// <summary>
    /// True if an environment's locale is ASCII only: the first of LC_ALL, LC_CTYPE and LANG that is set does not name UTF-8. Has no
    /// meaning on Windows.
    /// </summary>
    /// <remarks>POSIX.1-2017, base definitions, 8.2: the order of the three, and that the locale is POSIX if none is set.</remarks>
    internal static bool IsAscii(Func<string, string?> variable)
    {
        string[] order = ["LC_ALL", "LC_CTYPE", "LANG"];
        var locale = order.Select(variable).FirstOrDefault(value => !string.IsNullOrEmpty(value)) ?? "C";
        return !locale.Contains("UTF-8", StringComparison.OrdinalIgnoreCase) && !locale.Contains("UTF8", StringComparison.OrdinalIgnoreCase);
    }

    /// <summary>The look of an ink.</summary>
    public Attribute Of(Ink ink) => _looks[(int)ink];

    private static Attribute Look(Ink ink, Colours colours)
    {
        var style = ink switch
        {
            Ink.Strong or Ink.Point or Ink.Key or Ink.Warning => TextStyle.Bold,
            Ink.Faint or Ink.Ahead when colours == Colours.None => TextStyle.Faint,
            Ink.Pending => TextStyle.Underline,
            _ => TextStyle.None,
        };
        if (colours == Colours.None)
        {
            return new Attribute(Color.None, Color.None, style);
        }

        // Middle greys and light colours are readable on dark and light backgrounds.
        var colour = (ink, colours) switch
        {
            (Ink.Plain or Ink.Strong, _) => Color.None,
            (Ink.Faint or Ink.Ahead, Colours.Full) => new Color(128, 128, 136),
            (Ink.Faint or Ink.Ahead, _) => new Color(ColorName16.DarkGray),
            (Ink.Passed, Colours.Full) => new Color(46, 139, 140),
            (Ink.Passed, _) => new Color(ColorName16.Cyan),
            (Ink.Point, Colours.Full) => new Color(226, 120, 36),
            (Ink.Point, _) => new Color(ColorName16.Yellow),
            (Ink.Pending, Colours.Full) => new Color(196, 120, 20),
            (Ink.Pending, _) => new Color(ColorName16.Yellow),
            (Ink.Warning, Colours.Full) => new Color(208, 64, 56),
            (Ink.Warning, _) => new Color(ColorName16.Red),
            (_, Colours.Full) => new Color(70, 130, 200),
            _ => new Color(ColorName16.Blue),
        };
        return new Attribute(colour, Color.None, style);
    }
}
