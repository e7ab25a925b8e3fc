using System.Diagnostics.CodeAnalysis;
using System.Globalization;
using GrooveLab.Music.Notation;

namespace GrooveLab.Exchange.Scores;

/// <summary>A place in a score file and what is to say about it: an error, a warning, or something that was not carried over.</summary>
/// <param name="Place">Where it is: file, line and the place in terms of the format ("part P1, measure 12", "byte 120").</param>
/// <param name="What">What is wrong or missing, in a musician's words.</param>
/// <param name="Remedy">What to do about it, or how it was read instead; empty for nothing.</param>
public sealed record ScoreRemark(Origin Place, string What, string Remedy)
{
    /// <summary>"file:line: place: what; remedy", on one line, without the elements that are unknown.</summary>
    public override string ToString()
    {
        var line = Place.Line is { } number ? number.ToString(CultureInfo.InvariantCulture) : null;
        var parts = new[] { string.Join(':', new[] { Place.File, line }.Where(one => one is not null)), Place.Path, What };
        var text = string.Join(": ", parts.Where(one => !string.IsNullOrEmpty(one)));
        return Remedy.Length == 0 ? text : $"{text}; {Remedy}";
    }
}

/// <summary>Whose bar lines a MIDI file is read on.</summary>
public enum MidiGrid
{
    /// <summary>Those of the file.</summary>
    File,

    /// <summary>Those found from the notes: the file was performed without a grid.</summary>
    Found,
}

/// <summary>What a reader of scores is told besides the file.</summary>
public sealed record ScoreOptions
{
    /// <summary>The file's name as given, for messages; "standard input" when there is none.</summary>
    public required string Name { get; init; }

    /// <summary>Which tune of a file with several, from 1; null for the first.</summary>
    public int? Tune { get; init; }

    /// <summary>The meter of music that names none (words with chords, a MIDI file without one), as in a chart; null to assume it.</summary>
    public string? Meter { get; init; }

    /// <summary>The key of music that names none, as in a chart; null to find it.</summary>
    public string? Key { get; init; }

    /// <summary>The tempo of music that names none, as in a chart; null to find or assume it.</summary>
    public string? Tempo { get; init; }

    /// <summary>Whose bar lines a MIDI file is read on; null to decide it from the file.</summary>
    public MidiGrid? Grid { get; init; }

    /// <summary>A time in seconds from the start of a MIDI file at which a bar begins, for bar lines that are found; null to find it.</summary>
    public double? BarAt { get; init; }

    /// <summary>Bars for each line of words, for words with chords; null to find it.</summary>
    public int? BarsInLine { get; init; }
}

/// <summary>The result of reading a score: either the music or all its errors, with warnings and what was not carried over.</summary>
public sealed class ScoreReading
{
    /// <summary>A score that was read.</summary>
    /// <param name="music">The music.</param>
    /// <param name="warnings">What is odd and was read all the same, in order of place.</param>
    /// <param name="notCarried">What the file has and the music does not, in order of place.</param>
    public ScoreReading(WrittenMusic music, IReadOnlyList<ScoreRemark> warnings, IReadOnlyList<ScoreRemark> notCarried)
    {
        Music = music;
        Errors = [];
        Warnings = warnings;
        NotCarried = notCarried;
    }

    /// <summary>A score that was refused.</summary>
    /// <param name="errors">The reasons, at least one, in order of place.</param>
    /// <param name="warnings">What else is odd.</param>
    /// <exception cref="ArgumentException">No error.</exception>
    public ScoreReading(IReadOnlyList<ScoreRemark> errors, IReadOnlyList<ScoreRemark> warnings)
    {
        if (errors.Count == 0)
        {
            throw new ArgumentException("A refusal needs a reason.", nameof(errors));
        }

        Errors = errors;
        Warnings = warnings;
        NotCarried = [];
    }

    /// <summary>The music; null when there are errors.</summary>
    public WrittenMusic? Music { get; }

    /// <summary>Why the score was refused, in order of place; empty when it was read.</summary>
    public IReadOnlyList<ScoreRemark> Errors { get; }

    /// <summary>What is odd and was read all the same.</summary>
    public IReadOnlyList<ScoreRemark> Warnings { get; }

    /// <summary>What the file has and the music does not. Layout and drawing are not listed.</summary>
    public IReadOnlyList<ScoreRemark> NotCarried { get; }

    /// <summary>Tunes in the file: (number as in the file, title); empty for a format with only one.</summary>
    public IReadOnlyList<(int Number, string Title)> Tunes { get; init; } = [];

    /// <summary>True when the score was read.</summary>
    [MemberNotNullWhen(true, nameof(Music))]
    public bool IsRead => Music is not null;
}
