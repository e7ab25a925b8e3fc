namespace GrooveLab.Music.Notation;

/// <summary>The place from which something was read.</summary>
/// <param name="File">The file name as given; null for none.</param>
/// <param name="Line">The line, from 1; null if unknown.</param>
/// <param name="Path">The place inside the file in terms of the format, such as "part P1, measure 12"; null if not needed.</param>
public sealed record Origin(string? File, int? Line, string? Path);

/// <summary>Whether something is written or inferred.</summary>
public enum Provenance
{
    /// <summary>Written in the source.</summary>
    Written,

    /// <summary>Inferred from the source.</summary>
    Inferred,
}

/// <summary>Properties that a person has fixed and programs must not change.</summary>
[Flags]
public enum Pins
{
    /// <summary>Nothing.</summary>
    None = 0,

    /// <summary>Its place.</summary>
    Place = 1,

    /// <summary>Its length.</summary>
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

/// <summary>A remark on something written, for people or for later processing; it does not sound.</summary>
/// <param name="Kind">The kind of remark, such as "footnote".</param>
/// <param name="Text">The remark.</param>
public sealed record Annotation(string Kind, string Text);

/// <summary>A name with a value and nested details, for rare information, in MusicXML's terms.</summary>
/// <param name="Name">The name; attributes begin with @.</param>
/// <param name="Value">The value; empty for none.</param>
public sealed record Detail(string Name, string Value)
{
    /// <summary>The nested details.</summary>
    public ValueList<Detail> Inside { get; init; } = [];
}

/// <summary>A line of a score's heading: title, creators, rights.</summary>
/// <param name="Kind">The kind in MusicXML's terms: "work-title", "movement-title", "creator", "rights" and so on.</param>
/// <param name="Type">Its type, such as "composer"; null for none.</param>
/// <param name="Text">The text.</param>
public sealed record Heading(string Kind, string? Type, string Text);
