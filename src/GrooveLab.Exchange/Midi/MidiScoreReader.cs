using System.Buffers.Binary;
using System.Globalization;
using GrooveLab.Exchange.Scores;
using GrooveLab.Music.Notation;

namespace GrooveLab.Exchange.Midi;

/// <summary>Reads a Standard MIDI File (formats 0 and 1; of format 2 the chosen sequence) as written music, on the file's own bar lines.
/// docs/midi.md describes what is read.</summary>
/// <remarks>Work and memory are proportional to the file: see <see cref="MidiFileReader"/>, <see cref="MostMeasures"/> and
/// <see cref="MostPieces"/>.</remarks>
public static class MidiScoreReader
{
    /// <summary>Maximum number of measures: more than ten hours of music.</summary>
    public const int MostMeasures = 20_000;

    /// <summary>Maximum number of events: the start and end of each note, and the signs.</summary>
    public const int MostEvents = (2 * MostNotes) + MostSigns;

    /// <summary>Maximum number of notes: five thousand bars with forty of them, in less than 200 MB of memory.</summary>
    public const int MostNotes = 200_000;

    /// <summary>Maximum number of notes after long ones are divided at bar lines; each note in two pieces.</summary>
    public const int MostPieces = 400_000;

    /// <summary>Maximum number of parts: channels of tracks with notes.</summary>
    public const int MostParts = 256;

    /// <summary>Maximum number of measures of all parts together.</summary>
    public const int MostPartMeasures = 200_000;

    /// <summary>Maximum number of meta events: tempi, meters, keys, markers and syllables.</summary>
    public const int MostSigns = 100_000;

    /// <summary>Reads a file.</summary>
    /// <param name="bytes">The whole file.</param>
    /// <param name="options">Its name; the number of the sequence in format 2; meter, key and tempo of a file that has none.</param>
    public static ScoreReading Read(ReadOnlyMemory<byte> bytes, ScoreOptions options)
    {
        var tunes = Sequences(bytes.Span);
        try
        {
            if (tunes.Count > 0)
            {
                var number = options.Tune ?? 1;
                if (number < 1 || number > tunes.Count)
                {
                    return new ScoreReading(
                        [Remark(options, null, string.Create(CultureInfo.InvariantCulture, $"there is no sequence {number}"), string.Create(CultureInfo.InvariantCulture, $"the file has {tunes.Count}"))], []);
                }

                bytes = Single(bytes.Span, tunes[number - 1]);
            }

            var file = MidiFileReader.Parse(bytes.Span, options.Name, MostEvents);
            var remarks = new List<ScoreRemark>();
            var isPerformed = options.Grid == MidiGrid.Found || (options.Grid is null && !PerformedMidi.HasGrid(file));
            var left = new List<ScoreRemark>();
            if (isPerformed && TooManyNotes(file, options) is { } refusal)
            {
                return refusal;
            }

            var read = new MidiScore(isPerformed ? PerformedMidi.OnGrid(file, options, remarks) : LeadIn.Without(file, options.Name, left), options).Read();
            var listed = tunes.Select((_, i) => (i + 1, string.Create(CultureInfo.InvariantCulture, $"sequence {i + 1}"))).ToList();
            return read.IsRead
                ? new ScoreReading(read.Music, [.. Odd(file, options), .. remarks, .. read.Warnings], [.. left, .. read.NotCarried]) { Tunes = listed }
                : new ScoreReading(read.Errors, [.. Odd(file, options), .. remarks, .. read.Warnings]) { Tunes = listed };
        }
        catch (MidiFileException problem)
        {
            return new ScoreReading(
                [Remark(options, string.Create(CultureInfo.InvariantCulture, $"byte {problem.Offset}"), problem.Reason, string.Empty)], []);
        }
    }

    private static ScoreRemark Remark(ScoreOptions options, string? path, string what, string remedy) => new(new Origin(options.Name, null, path), what, remedy);

    // Before a grid is looked for, which costs much more than reading.
    private static ScoreReading? TooManyNotes(MidiFile file, ScoreOptions options)
    {
        var notes = file.Tracks.SelectMany(track => track.Events).Where(item => item.IsNoteOn).Select(item => item.Tick).Order().Skip(MostNotes).Take(1).ToList();
        return notes.Count == 0 ? null : new ScoreReading(
            [Remark(options, string.Create(CultureInfo.InvariantCulture, $"tick {notes[0]}"), string.Create(CultureInfo.InvariantCulture, $"the file has more than {MostNotes} notes"), "divide the file")], []);
    }

    private static IEnumerable<ScoreRemark> Odd(MidiFile file, ScoreOptions options) => file.Warnings.Select(warning =>
        Remark(options, string.Create(CultureInfo.InvariantCulture, $"byte {warning.Offset}"), warning.Reason, string.Empty));

    // The chunks of the sequences of a format 2 file; none for other formats, and for chunks that are not whole.
    private static List<Range> Sequences(ReadOnlySpan<byte> bytes)
    {
        var found = new List<Range>();
        if (bytes.Length < 14 || !bytes.StartsWith("MThd"u8) || BinaryPrimitives.ReadUInt16BigEndian(bytes[8..]) != 2)
        {
            return found;
        }

        for (var at = 8L + BinaryPrimitives.ReadUInt32BigEndian(bytes[4..]); at + 8 <= bytes.Length;)
        {
            var length = BinaryPrimitives.ReadUInt32BigEndian(bytes[((int)at + 4)..]);
            if (at + 8 + length > bytes.Length)
            {
                return [];
            }

            if (bytes[(int)at..].StartsWith("MTrk"u8))
            {
                found.Add((int)at..(int)(at + 8 + length));
            }

            at += 8 + length;
        }

        return found;
    }

    private static byte[] Single(ReadOnlySpan<byte> bytes, Range sequence)
    {
        byte[] header = [.. "MThd"u8, 0, 0, 0, 6, 0, 0, 0, 1, bytes[12], bytes[13]];
        return [.. header, .. bytes[sequence]];
    }
}
