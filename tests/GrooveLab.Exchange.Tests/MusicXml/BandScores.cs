using System.Collections.Concurrent;
using System.Globalization;
using System.Text;
using System.Xml.Linq;
using GrooveLab.Exchange.Tests.Charts;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;
using GrooveLab.Music.ToScore;

namespace GrooveLab.Exchange.Tests.MusicXml;

/// <summary>A chart's bars and the score of its band.</summary>
internal sealed record Scored(string Name, BarComposer Band, IReadOnlyList<Bar> Bars, WrittenMusic Music, byte[] Bytes)
{
    public XDocument Document { get; } = XDocument.Load(new MemoryStream(Bytes));
}

/// <summary>Every preset, and charts in odd meters, scored once for all tests.</summary>
internal static class BandScores
{
    private static readonly ConcurrentDictionary<string, Lazy<Scored>> Made = new(StringComparer.Ordinal);

    // One, five undivided, seven, eleven, thirteen, nine in nested groups; thirds and fifths of a unit come from the roll at slow tempi.
    private static readonly string[] Meters =
        ["1/4", "5/8 none", "5/8 2+3", "7/8 3+2+2", "11/16 3+3+3+2", "13/16 2+2+2+2+2+3", "9/4 (2+2)+(2+3)", "3/4", "12/8", "2/2", "15/16 none", "7/4 4+3", "1/8"];

    public static IReadOnlyList<string> Presets { get; } =
        [.. Directory.EnumerateFiles(ChartTexts.Folder("presets"), "*.toml").Select(path => Path.GetFileNameWithoutExtension(path)!).Order(StringComparer.Ordinal)];

    public static IReadOnlyList<string> Odd { get; } = ["odd, fast", "odd, slow"];

    public static IEnumerable<Scored> All => Presets.Concat(Odd).Select(Of);

    public static Scored Of(string name) => Made.GetOrAdd(name, _ => new Lazy<Scored>(() => Make(name))).Value;

    private static Scored Make(string name)
    {
        var text = Presets.Contains(name) ? File.ReadAllText(Path.Combine(ChartTexts.Folder("presets"), name + ".toml")) : OddText(name == Odd[0] ? 260 : 70);
        var band = new BarComposer(ChartTexts.Chart(text));
        var music = BandScore.Of(band);
        return new Scored(name, band, [.. Enumerable.Range(band.First, band.End!.Value - band.First).Select(band.BarAt)], music, MusicXmlFile.Bytes(music));
    }

    private static string OddText(int eighths)
    {
        var text = new StringBuilder();
        text.Append(CultureInfo.InvariantCulture, $"format = 1\ntitle = \"Odd & even\"\nkey = \"D dorian\"\ntempo = \"eighth = {eighths}\"\nmeter = \"5/8 3+2\"\n");
        foreach (var (number, meter) in Meters.Index())
        {
            text.Append(CultureInfo.InvariantCulture, $"[[section]]\nname = \"s{number}\"\nmeter = \"{meter}\"\nchords = \"| Dm | G7 | C |\"\n");
        }

        return text.ToString();
    }

    /// <summary>The notes that begin in the bars as composed, without lead-in, ornaments, and notes held on by a new bow: the part, the place in whole
    /// notes from bar 1, and the key; -1 for an unpitched note.</summary>
    public static IEnumerable<(int Part, Rational Place, int Key)> NotesOfBars(Scored scored)
    {
        var first = scored.Band.BarAt(0).Start;
        return from bar in scored.Bars
               from note in bar.Notes
               let written = note.Written
               where written is { Ornament: null, Join: not NoteJoin.HeldOn } && (bar.Index >= 0 || written.Tune is not null)
               select (note.Part, (bar.Start - first + written.Onset).Wholes, note.Unpitched ? -1 : note.Key);
    }

    /// <summary>The same from the file, by walking its XML: without the notes to which a tie leads, and as they sound. Parts are those of the chart.</summary>
    public static IEnumerable<(int Part, Rational Place, int Key)> NotesOfFile(Scored scored)
    {
        var names = scored.Band.Chart.Parts.Select(part => part.Name).ToList();
        var listed = scored.Document.Root!.Element("part-list")!.Elements("score-part").ToDictionary(part => part.Attribute("id")!.Value, part => part.Element("part-name")!.Value);
        foreach (var part in scored.Document.Root!.Elements("part"))
        {
            var number = names.IndexOf(listed[part.Attribute("id")!.Value]);
            var (start, divisions, semitones) = (Rational.Zero, 1L, 0);
            var isPickup = true;
            var pickup = Rational.Zero;
            var notes = new List<(int, Rational, int)>();
            foreach (var measure in part.Elements("measure"))
            {
                isPickup &= measure.Attribute("implicit")?.Value == "yes";
                var (cursor, onset, reach) = (0L, 0L, 0L);
                foreach (var element in measure.Elements())
                {
                    var duration = Whole(element.Element("duration")?.Value ?? "0");
                    switch (element.Name.LocalName)
                    {
                        case "attributes":
                            divisions = element.Element("divisions") is { } said ? Whole(said.Value) : divisions;
                            semitones = element.Element("transpose") is { } transpose
                                ? (int)Whole(transpose.Element("chromatic")!.Value) + (12 * (int)Whole(transpose.Element("octave-change")?.Value ?? "0"))
                                : semitones;
                            break;
                        case "backup":
                            cursor -= duration;
                            break;
                        case "forward":
                            cursor += duration;
                            break;
                        case "note":
                            if (element.Element("chord") is null)
                            {
                                onset = cursor;
                                cursor += element.Element("grace") is null ? duration : 0;
                            }

                            if (element.Element("rest") is null && element.Element("grace") is null && element.Elements("tie").All(tie => tie.Attribute("type")!.Value != "stop"))
                            {
                                notes.Add((number, start + new Rational(onset, divisions * 4), KeyOf(element, semitones)));
                            }

                            break;
                    }

                    reach = Math.Max(reach, cursor);
                }

                start += new Rational(reach, divisions * 4);
                pickup = isPickup ? start : pickup;
            }

            foreach (var (_, place, key) in notes)
            {
                yield return (number, place - pickup, key);
            }
        }
    }

    /// <summary>The length of the measures before bar 1, in whole notes.</summary>
    public static Rational PickupOf(Scored scored) => scored.Music.Measures.TakeWhile(measure => measure.IsUncounted)
        .Aggregate(Rational.Zero, (sum, measure) => sum + (measure.ActualLength ?? scored.Music.MeterAt(0)!.Length!.Value).Wholes);

    /// <summary>Semitones from what a part of the chart reads to what it sounds.</summary>
    public static int Transposition(Scored scored, int part)
    {
        var written = scored.Music.Parts.First(one => one.Name == scored.Band.Chart.Parts[part].Name).Measures[0].Transpositions;
        return written.Count == 0 ? 0 : (int)written[0].Chromatic.Numerator + (12 * (written[0].Octaves ?? 0));
    }

    private static int KeyOf(XElement note, int semitones)
    {
        if (note.Element("pitch") is not { } pitch)
        {
            return -1;
        }

        var step = "C D EF G A B".IndexOf(pitch.Element("step")!.Value[0], StringComparison.Ordinal);
        return (12 * ((int)Whole(pitch.Element("octave")!.Value) + 1)) + step + (int)Whole(pitch.Element("alter")?.Value ?? "0") + semitones;
    }

    private static long Whole(string text) => long.Parse(text, CultureInfo.InvariantCulture);

    /// <summary>What is in one list and not in the other, counted.</summary>
    public static string Difference<T>(IEnumerable<T> expected, IEnumerable<T> actual)
        where T : notnull
    {
        var counts = new Dictionary<T, int>();
        foreach (var one in expected)
        {
            counts[one] = counts.GetValueOrDefault(one) + 1;
        }

        foreach (var one in actual)
        {
            counts[one] = counts.GetValueOrDefault(one) - 1;
        }

        var missing = counts.Where(pair => pair.Value > 0).ToList();
        var added = counts.Where(pair => pair.Value < 0).ToList();
        return missing.Count + added.Count == 0
            ? ""
            : $"{missing.Count} missing: {string.Join(' ', missing.Take(6).Select(pair => pair.Key))}; {added.Count} added: {string.Join(' ', added.Take(6).Select(pair => pair.Key))}";
    }
}
