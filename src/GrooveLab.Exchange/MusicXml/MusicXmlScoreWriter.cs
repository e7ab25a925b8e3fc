using System.IO.Compression;
using GrooveLab.Music.Notation;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>Writes any written music as a partwise MusicXML 4.0 score, plain or compressed (.mxl). The same music gives the same bytes.</summary>
/// <remarks>
/// Source: MusicXML 4.0, W3C Community Final Specification. The score is written measure by measure; beyond the music itself, memory does not grow with its
/// length. What the format has no place for is left out: pins, origins, alternative readings of chords, stresses of syllables, and how far notes lay back.
/// </remarks>
public static class MusicXmlScoreWriter
{
    /// <summary>The media type of a compressed score, which is also the content of its first file.</summary>
    private const string ArchiveType = "application/vnd.recordare.musicxml";

    private const string ScoreType = "application/vnd.recordare.musicxml+xml";
    private const string NameInArchive = "score.musicxml";

    // The first day that an archive can name: equal scores then have equal bytes.
    private static readonly DateTimeOffset Undated = new(1980, 1, 1, 0, 0, 0, TimeSpan.Zero);

    /// <summary>Writes a score as text in UTF-8.</summary>
    /// <param name="music">The music.</param>
    /// <param name="stream">Takes the bytes; stays open.</param>
    /// <exception cref="OverflowException">The lengths in a measure have no common unit that fits 64 bits.</exception>
    public static void Write(WrittenMusic music, Stream stream)
    {
        using var xml = new ScoreXml(stream);
        new ScoreWriter(music, xml).Write();
    }

    /// <summary>Writes a compressed score: an archive of the score and the container that names it.</summary>
    /// <inheritdoc cref="Write"/>
    public static void WriteArchive(WrittenMusic music, Stream stream)
    {
        using var archive = new ZipArchive(stream, ZipArchiveMode.Create, leaveOpen: true);
        using (var kind = Entry("mimetype", CompressionLevel.NoCompression))
        {
            kind.Write(System.Text.Encoding.ASCII.GetBytes(ArchiveType));
        }

        using (var container = Entry("META-INF/container.xml", CompressionLevel.Optimal))
        {
            using var xml = new ScoreXml(container);
            xml.Declare();
            xml.Line();
            xml.Open("container");
            xml.Open("rootfiles");
            xml.Open("rootfile");
            xml.Attribute("full-path", NameInArchive);
            xml.Attribute("media-type", ScoreType);
            xml.Close();
            xml.Close();
            xml.Close();
        }

        using var score = Entry(NameInArchive, CompressionLevel.Optimal);
        Write(music, score);

        Stream Entry(string name, CompressionLevel level)
        {
            var entry = archive.CreateEntry(name, level);
            entry.LastWriteTime = Undated;
            return entry.Open();
        }
    }
}
