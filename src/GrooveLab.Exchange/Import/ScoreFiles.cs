using System.Text;
using GrooveLab.Exchange.Abc;
using GrooveLab.Exchange.MusicXml;
using GrooveLab.Exchange.Scores;
using GrooveLab.Exchange.SongTexts;
using GrooveLab.Music.Notation;

namespace GrooveLab.Exchange.Import;

/// <summary>Finds out the format of a score, and reads it.</summary>
public static class ScoreFiles
{
    /// <summary>The words by which formats are named.</summary>
    public static IReadOnlyList<string> Words { get; } = ["musicxml", "midi", "abc", "words"];

    /// <summary>The endings of file names that are scores.</summary>
    public static IReadOnlyList<string> Endings { get; } = [".musicxml", ".xml", ".mxl", ".mid", ".midi", ".kar", ".rmi", ".abc", ".txt"];

    /// <summary>Maximum size of a file, in bytes; each format has its own limit below it.</summary>
    public const int LargestFile = 128_000_000;

    /// <summary>The format of a word; null for none.</summary>
    public static ScoreFormat? OfWord(string word) => Words.ToList().IndexOf(word) is >= 0 and var index ? (ScoreFormat)index : null;

    /// <summary>The format of a file, by its first bytes and, where these leave it open, by its name.</summary>
    /// <param name="bytes">The file.</param>
    /// <param name="name">Its name.</param>
    public static ScoreFormat FormatOf(ReadOnlySpan<byte> bytes, string name)
    {
        if (bytes.StartsWith("MThd"u8) || (bytes.StartsWith("RIFF"u8) && bytes.Length >= 12 && bytes[8..12].SequenceEqual("RMID"u8)))
        {
            return ScoreFormat.Midi;
        }

        if (bytes.StartsWith("PK"u8))
        {
            return ScoreFormat.MusicXml;
        }

        var head = Head(bytes).TrimStart();
        if (head.StartsWith('<'))
        {
            return ScoreFormat.MusicXml;
        }

        var ending = Path.GetExtension(name).ToLowerInvariant();
        return ending switch
        {
            ".abc" => ScoreFormat.Abc,
            ".musicxml" or ".mxl" or ".xml" => ScoreFormat.MusicXml,
            ".mid" or ".midi" or ".kar" or ".rmi" => ScoreFormat.Midi,
            _ => head.StartsWith("X:", StringComparison.Ordinal) || head.StartsWith("%abc", StringComparison.Ordinal) || head.Contains("\nX:", StringComparison.Ordinal)
                ? ScoreFormat.Abc
                : ScoreFormat.Words,
        };
    }

    /// <summary>Reads a score.</summary>
    /// <param name="bytes">The file.</param>
    /// <param name="format">Its format.</param>
    /// <param name="options">Its name and what else is known.</param>
    public static ScoreReading Read(ReadOnlyMemory<byte> bytes, ScoreFormat format, ScoreOptions options)
    {
        if (bytes.Length == 0)
        {
            return new ScoreReading([new ScoreRemark(new Origin(options.Name, null, null), "the file is empty", "give a score: MusicXML, MIDI, ABC, or words with chords above them")], []);
        }

        return format switch
        {
            ScoreFormat.MusicXml => MusicXmlScoreReader.Read(bytes, options),
            ScoreFormat.Abc => AbcScoreReader.Read(bytes, options),
            ScoreFormat.Midi => Midi.MidiScoreReader.Read(bytes, options),
            _ => SongTextReader.Read(bytes, options),
        };
    }

    // The first characters as text: UTF-16 by its mark, otherwise as bytes.
    private static string Head(ReadOnlySpan<byte> bytes)
    {
        var head = bytes[..Math.Min(bytes.Length, 2048)];
        return head.StartsWith((ReadOnlySpan<byte>)[0xFF, 0xFE]) ? Encoding.Unicode.GetString(head[2..])
            : head.StartsWith((ReadOnlySpan<byte>)[0xFE, 0xFF]) ? Encoding.BigEndianUnicode.GetString(head[2..])
            : head.StartsWith(Encoding.UTF8.Preamble) ? Encoding.Latin1.GetString(head[3..])
            : Encoding.Latin1.GetString(head);
    }
}
