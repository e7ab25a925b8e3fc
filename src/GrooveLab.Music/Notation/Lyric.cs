using GrooveLab.Music.Time;

namespace GrooveLab.Music.Notation;

/// <summary>The position of a syllable in its word.</summary>
public enum WordPlace
{
    /// <summary>The only syllable.</summary>
    Single,

    /// <summary>The first syllable of several.</summary>
    Begin,

    /// <summary>A middle syllable.</summary>
    Middle,

    /// <summary>The last syllable of several.</summary>
    End,
}

/// <summary>How strongly a syllable is stressed in speech.</summary>
public enum Stress
{
    /// <summary>Not given.</summary>
    Unknown,

    /// <summary>Unstressed.</summary>
    Weak,

    /// <summary>Stressed.</summary>
    Strong,
}

/// <summary>How a part of a lyric joins the one before it.</summary>
public enum LyricJoin
{
    /// <summary>The first part, or a continuation of the same syllable.</summary>
    None,

    /// <summary>An elision: another syllable on the same note.</summary>
    Elision,
}

/// <summary>A syllable, or a part of the text sung on one note. A hyphen inside the text is part of the text.</summary>
/// <param name="Text">The text as written, without the hyphen between syllables.</param>
/// <param name="Place">Its position in the word; null if not given.</param>
public sealed record LyricPart(string Text, WordPlace? Place)
{
    /// <summary>How it joins the part before it.</summary>
    public LyricJoin Join { get; init; }

    /// <summary>The sign of an elision, which may be empty; null for none.</summary>
    public string? JoinSign { get; init; }
}

/// <summary>An extender: a line that continues a syllable over more notes.</summary>
public enum Extender
{
    /// <summary>None.</summary>
    None,

    /// <summary>A line without start, continuation or end.</summary>
    Plain,

    /// <summary>The line starts here.</summary>
    Start,

    /// <summary>The line continues.</summary>
    Continue,

    /// <summary>The line ends here.</summary>
    Stop,
}

/// <summary>What is sung: words or another sound.</summary>
public enum WordlessSound
{
    /// <summary>Words.</summary>
    None,

    /// <summary>Laughing.</summary>
    Laughing,

    /// <summary>Humming.</summary>
    Humming,
}

/// <summary>The lyric of a note in one verse.</summary>
public sealed record Lyric
{
    /// <summary>The verse number, often "1"; null if not given.</summary>
    public string? Number { get; init; }

    /// <summary>The verse's name, such as "chorus"; null for none.</summary>
    public string? Name { get; init; }

    /// <summary>The syllable, or several on one note; empty if only an extender continues.</summary>
    public ValueList<LyricPart> Parts { get; init; } = [];

    /// <summary>The line that continues the syllable (a melisma).</summary>
    public Extender Extender { get; init; }

    /// <summary>What is sung: words or another sound.</summary>
    public WordlessSound Sound { get; init; }

    /// <summary>True when a line of the text ends.</summary>
    public bool EndsLine { get; init; }

    /// <summary>True when a paragraph of the text ends.</summary>
    public bool EndsParagraph { get; init; }

    /// <summary>The passes through a repeat in which it is sung; empty if not given.</summary>
    public ValueList<int> Passes { get; init; } = [];

    /// <summary>True when it is not printed.</summary>
    public bool IsHidden { get; init; }

    /// <summary>Its stress.</summary>
    public Stress Stress { get; init; }

    /// <summary>How far it lays back after its written place, not negative; null to follow its note.</summary>
    /// <exception cref="ArgumentOutOfRangeException">Below zero.</exception>
    public Span? Late
    {
        get;
        init => field = value is null || value >= Span.Zero
            ? value
            : throw new ArgumentOutOfRangeException(nameof(value), "A syllable cannot lay back by less than zero; write it earlier.");
    }

    /// <summary>What a person has fixed.</summary>
    public Pins Pins { get; init; }

    /// <summary>The whole text: its parts in order, with elision signs between them.</summary>
    public string Text => string.Concat(Parts.Select(part => part.JoinSign + part.Text));
}
