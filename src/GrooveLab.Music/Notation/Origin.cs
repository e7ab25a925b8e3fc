namespace GrooveLab.Music.Notation;

/// <summary>Where something was read.</summary>
/// <param name="File">The file as it was named; null where there is none.</param>
/// <param name="Line">The line, from 1; null where it is not known.</param>
/// <param name="Path">The place inside the file in the format's own words, such as "part P1, measure 12"; null where none is needed.</param>
public sealed record Origin(string? File, int? Line, string? Path);

/// <summary>How sure it is that something is written.</summary>
public enum Provenance
{
    /// <summary>It stands in the source.</summary>
    Written,

    /// <summary>It was concluded from what stands there.</summary>
    Inferred,
}

/// <summary>What a person fixed, so that no program moves it.</summary>
[Flags]
public enum Pins
{
    /// <summary>Nothing.</summary>
    None = 0,

    /// <summary>Where it stands.</summary>
    Place = 1,

    /// <summary>How long it is.</summary>
    Value = 2,

    /// <summary>Its pitch.</summary>
    Pitch = 4,

    /// <summary>Its words.</summary>
    Words = 8,

    /// <summary>Its chords.</summary>
    Harmony = 16,

    /// <summary>Its meter and grouping.</summary>
    Meter = 32,

    /// <summary>All of it.</summary>
    All = Place | Value | Pitch | Words | Harmony | Meter,
}

/// <summary>A remark on something written, for people or for a later step; nothing sounds by it.</summary>
/// <param name="Kind">What sort of remark, a word such as "footnote".</param>
/// <param name="Text">The remark.</param>
public sealed record Annotation(string Kind, string Text);

/// <summary>A name with a value and smaller ones inside, for what is said only rarely, in the words of MusicXML.</summary>
/// <param name="Name">The name; attributes begin with @.</param>
/// <param name="Value">The value; empty for none.</param>
public sealed record Detail(string Name, string Value)
{
    /// <summary>What stands inside.</summary>
    public ValueList<Detail> Inside { get; init; } = [];
}

/// <summary>A line of a score's heading: its title, who made it, its rights.</summary>
/// <param name="Kind">What it is: "work-title", "movement-title", "creator", "rights" and so on, in the words of MusicXML.</param>
/// <param name="Type">More about it, such as "composer"; null for nothing.</param>
/// <param name="Text">The text.</param>
public sealed record Heading(string Kind, string? Type, string Text);
