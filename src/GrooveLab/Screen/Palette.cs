using Terminal.Gui.Drawing;
using Attribute = Terminal.Gui.Drawing.Attribute;

namespace GrooveLab.Screen;

/// <summary>How many colours are used.</summary>
internal enum Colours
{
    /// <summary>None: weight and reversal only.</summary>
    None,

    /// <summary>The terminal's own sixteen.</summary>
    Sixteen,

    /// <summary>Any.</summary>
    Full,
}

/// <summary>The looks of the inks for a terminal.</summary>
internal sealed class Palette
{
    private readonly Attribute[] _looks;

    /// <param name="colours">How many colours.</param>
    public Palette(Colours colours)
    {
        _looks = [.. Enum.GetValues<Ink>().Select(ink => Look(ink, colours))];
    }

    /// <summary>
    /// What the environment asks for: NO_COLOR (any value) or a terminal that has no colours for none, COLORTERM=truecolor or 24bit for all,
    /// else sixteen.
    /// </summary>
    public static Colours FromEnvironment() => From(Environment.GetEnvironmentVariable);

    /// <summary>The same of any environment.</summary>
    internal static Colours From(Func<string, string?> variable) =>
        variable("NO_COLOR") is { Length: > 0 } || IsColourless(variable("TERM") ?? string.Empty) ? Colours.None
        : variable("COLORTERM") is "truecolor" or "24bit" ? Colours.Full
        : Colours.Sixteen;

    // The video terminals of that name, and what calls itself monochrome. From memory of the terminal database.
    private static bool IsColourless(string terminal) =>
        terminal.StartsWith("vt", StringComparison.Ordinal) || terminal.EndsWith("-m", StringComparison.Ordinal)
        || terminal.EndsWith("-mono", StringComparison.Ordinal);

    /// <summary>
    /// Whether an environment's locale has no more than ASCII: neither LC_ALL nor LC_CTYPE nor LANG, the first that is set, names UTF-8. Of no
    /// meaning on Windows.
    /// </summary>
    /// <remarks>POSIX.1-2017, base definitions, 8.2: the order of the three, and that without any the locale is the POSIX one.</remarks>
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

        // Middle greys and light colours stay readable on dark and on light grounds alike.
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
