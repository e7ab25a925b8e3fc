using GrooveLab.Music.Time;

namespace GrooveLab.Music.Notation;

/// <summary>Where a syllable stands in its word.</summary>
public enum WordPlace
{
    /// <summary>The only one.</summary>
    Single,

    /// <summary>The first of several.</summary>
    Begin,

    /// <summary>Between first and last.</summary>
    Middle,

    /// <summary>The last of several.</summary>
    End,
}

/// <summary>How strongly a syllable is stressed in speech.</summary>
public enum Stress
{
    /// <summary>Nobody said.</summary>
    Unknown,

    /// <summary>Unstressed.</summary>
    Weak,

    /// <summary>Stressed.</summary>
    Strong,
}

/// <summary>How a part of a lyric is joined to the one before it.</summary>
public enum LyricJoin
{
    /// <summary>It is the first, or goes on with the same syllable.</summary>
    None,

    /// <summary>Two syllables on one note.</summary>
    Elision,
}

/// <summary>A syllable, or a part of what is sung on one note. A hyphen inside the text is part of the text.</summary>
/// <param name="Text">The text as written, without the hyphen that a word's division adds.</param>
/// <param name="Place">Its place in the word; null where that is not said.</param>
public sealed record LyricPart(string Text, WordPlace? Place)
{
    /// <summary>How it is joined to the part before it.</summary>
    public LyricJoin Join { get; init; }

    /// <summary>The sign of an elision, which may be empty; null without one.</summary>
    public string? JoinSign { get; init; }
}

/// <summary>A line that carries a syllable on over more notes.</summary>
public enum Extender
{
    /// <summary>None.</summary>
    None,

    /// <summary>A line, without a word on whether it begins, goes on or ends.</summary>
    Plain,

    /// <summary>It begins here.</summary>
    Start,

    /// <summary>It goes on.</summary>
    Continue,

    /// <summary>It ends here.</summary>
    Stop,
}

/// <summary>What is sung instead of words.</summary>
public enum WordlessSound
{
    /// <summary>Words.</summary>
    None,

    /// <summary>Laughing.</summary>
    Laughing,

    /// <summary>Humming.</summary>
    Humming,
}

/// <summary>What is sung on a note in one verse.</summary>
public sealed record Lyric
{
    /// <summary>The verse as numbered, often "1"; null where no number is given.</summary>
    public string? Number { get; init; }

    /// <summary>The verse's name, such as "chorus"; null for none.</summary>
    public string? Name { get; init; }

    /// <summary>The syllable, or several on one note; empty where only an extender goes on.</summary>
    public ValueList<LyricPart> Parts { get; init; } = [];

    /// <summary>The line that carries the syllable on (a melisma).</summary>
    public Extender Extender { get; init; }

    /// <summary>What is sung instead of words.</summary>
    public WordlessSound Sound { get; init; }

    /// <summary>True where a line of the text ends.</summary>
    public bool EndsLine { get; init; }

    /// <summary>True where a paragraph of the text ends.</summary>
    public bool EndsParagraph { get; init; }

    /// <summary>The passes through a repeat in which it is sung; empty where that is not said.</summary>
    public ValueList<int> Passes { get; init; } = [];

    /// <summary>True when it is not printed.</summary>
    public bool IsHidden { get; init; }

    /// <summary>How strongly it is stressed.</summary>
    public Stress Stress { get; init; }

    /// <summary>How far it is meant to come after its written place, not below zero; null to do as its note does.</summary>
    /// <exception cref="ArgumentOutOfRangeException">Below zero.</exception>
    public Span? Late
    {
        get;
        init => field = value is null || value >= Span.Zero
            ? value
            : throw new ArgumentOutOfRangeException(nameof(value), "A syllable does not come before its place; write it earlier.");
    }

    /// <summary>What a person fixed.</summary>
    public Pins Pins { get; init; }

    /// <summary>The whole text, its parts one behind the other; the sign of an elision stands between.</summary>
    public string Text => string.Concat(Parts.Select(part => part.JoinSign + part.Text));
}
