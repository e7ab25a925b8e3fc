using System.Globalization;
using System.Text;
using GrooveLab.Music.Wording;

namespace GrooveLab.Store;

/// <summary>The name of a key or pedal as the screen reports it, or why a word is not one.</summary>
/// <param name="Name">The name; null if the word is not accepted.</param>
/// <param name="What">The problem.</param>
/// <param name="Accepted">What is accepted instead.</param>
internal readonly record struct KeyName(string? Name, string What, string Accepted);

/// <summary>How keys, pedals and controllers are written in the settings.</summary>
internal static class KeyNames
{
    private const string Ctrl = "ctrl+";
    private const int MostNumber = 127;

    // The names that the screen uses.
    private static readonly string[] Named =
    [
        "space", "enter", "esc", "tab", "backspace", "delete", "pageup", "pagedown", "home", "end", "left", "right", "up", "down",
        "ctrl+left", "ctrl+right", "ctrl+backspace", "ctrl+delete",
    ];

    // A terminal sends the same code for these as for a key with a name (ECMA-48: HT, LF, CR, BS, ESC).
    private static readonly (string Key, string Same)[] SameCode =
        [("ctrl+i", "tab"), ("ctrl+j", "enter"), ("ctrl+m", "enter"), ("ctrl+h", "backspace"), ("ctrl+[", "esc")];

    private static readonly string[] Controllers = ["cc", "note", "program"];

    /// <summary>Reads the name of a key: a character, a name such as "space", or "ctrl+" with a character.</summary>
    public static KeyName Key(string word)
    {
        if (IsCharacter(word))
        {
            return word == " " ? Refused("' ' is not a name of a key", "write \"space\"") : Accepted(word);
        }

        var name = word.ToLowerInvariant();
        if (Named.Contains(name, StringComparer.Ordinal))
        {
            return Accepted(name);
        }

        if (name.StartsWith(Ctrl, StringComparison.Ordinal) && IsCharacter(name[Ctrl.Length..]) && name != "ctrl+ ")
        {
            var same = Array.Find(SameCode, pair => pair.Key == name).Same;
            return name == "ctrl+c" ? Refused("ctrl+c always leaves the program", "bind another key")
                : same is not null ? Refused($"a terminal sends {name} as {same}", $"bind {same}, or another key")
                : Accepted(name);
        }

        return Refused(
            $"{Words.Quote(word)} is not a key",
            Words.Nearest(name.Replace("-", string.Empty, StringComparison.Ordinal), Named) is { } near && name.Length > 1
                ? $"did you mean {near}?"
                : $"a key is one character, ctrl+ with a character, or {Words.Or(Named)}");
    }

    /// <summary>Reads the name of a pedal, pad or controller: "cc64", "note36", "program2".</summary>
    public static KeyName Pedal(string word)
    {
        var name = string.Concat(word.Where(letter => !char.IsWhiteSpace(letter))).ToLowerInvariant();
        var digits = name.Length - name.AsSpan().TrimEnd("0123456789").Length;
        var (kind, number) = (name[..^digits], name[^digits..]);
        var hasNumber = int.TryParse(number, NumberStyles.None, CultureInfo.InvariantCulture, out var value);
        if (Controllers.Contains(kind, StringComparer.Ordinal) && hasNumber && value <= MostNumber && string.Equals(name, word, StringComparison.OrdinalIgnoreCase))
        {
            return Accepted(kind + value.ToString(CultureInfo.InvariantCulture));
        }

        var meant = Words.Nearest(kind, Controllers) ?? (kind is "control" or "controller" or "pedal" ? "cc" : null);
        return Refused(
            $"{Words.Quote(word)} is not a pedal or controller",
            meant is null ? $"write cc, note or program with a number from 0 to {MostNumber}: \"cc64\""
                : hasNumber && value <= MostNumber ? $"did you mean {meant}{value.ToString(CultureInfo.InvariantCulture)}?"
                : $"write {meant} with a number from 0 to {MostNumber}");
    }

    private static bool IsCharacter(string word) =>
        Rune.DecodeFromUtf16(word, out var rune, out var length) == System.Buffers.OperationStatus.Done && length == word.Length && !Rune.IsControl(rune);

    private static KeyName Accepted(string name) => new(name, string.Empty, string.Empty);

    private static KeyName Refused(string what, string accepted) => new(null, what, accepted);
}
