using System.Globalization;
using System.Numerics;
using System.Xml.Linq;
using GrooveLab.Music.Notation;

namespace GrooveLab.Exchange.Tests.MusicXml;

/// <summary>The notes and syllables of a score as lists of lines, read twice: by walking the XML, which shares no code with the product,
/// and from the product's written music.</summary>
internal static class MusicXmlPlainReading
{
    /// <summary>(part, bar, onset in whole notes, pitch as spelled) of each note head, and (part, bar, onset, verse, text) of each syllable.
    /// The onset is the sum of durations, as the elements note, forward and backup say.</summary>
    public static List<string> OfXml(XDocument score)
    {
        var lines = new List<string>();
        var number = 0;
        foreach (var part in score.Root!.Elements("part"))
        {
            number++;
            var divisions = (Above: BigInteger.One, Below: BigInteger.One);
            var bar = 0;
            foreach (var measure in part.Elements("measure"))
            {
                bar++;
                var cursor = (Above: BigInteger.Zero, Below: BigInteger.One);
                var onset = cursor;
                foreach (var element in measure.Elements())
                {
                    var duration = element.Element("duration") is { } lasts ? Divided(Read(lasts.Value), divisions) : (BigInteger.Zero, BigInteger.One);
                    switch (element.Name.LocalName)
                    {
                        case "attributes" when element.Element("divisions") is { } said:
                            divisions = Read(said.Value);
                            break;
                        case "backup":
                            cursor = Sum(cursor, (-duration.Item1, duration.Item2));
                            break;
                        case "forward":
                            cursor = Sum(cursor, duration);
                            break;
                        case "note":
                            if (element.Element("chord") is null)
                            {
                                onset = cursor;
                                cursor = element.Element("grace") is null ? Sum(cursor, duration) : cursor;
                            }

                            AddNote(element, $"part {number} bar {bar} at {Text(onset)}", lines);
                            break;
                    }
                }
            }
        }

        lines.Sort(StringComparer.Ordinal);
        return lines;
    }

    public static List<string> OfMusic(WrittenMusic music)
    {
        var lines = new List<string>();
        for (var p = 0; p < music.Parts.Count; p++)
        {
            for (var m = 0; m < music.Measures.Count; m++)
            {
                foreach (var voice in music.Parts[p].Measures[m].Voices)
                {
                    var onset = Music.Time.Span.Zero;
                    foreach (var one in voice.Events)
                    {
                        var place = $"part {p + 1} bar {m + 1} at {onset.Wholes.Numerator}/{onset.Wholes.Denominator}";
                        foreach (var head in (one as NotesEvent)?.Notes ?? [])
                        {
                            lines.Add(head.Pitch is { } pitch
                                ? $"{place} {pitch.Letter} {pitch.Alter.Numerator}/{pitch.Alter.Denominator} {pitch.Octave}"
                                : $"{place} unpitched");
                        }

                        foreach (var lyric in one.Lyrics)
                        {
                            lines.AddRange(lyric.Parts.Select(part => $"{place} verse {lyric.Number} '{part.Text}' {part.Place?.ToString().ToLowerInvariant()}"));
                        }

                        onset += one.Length;
                    }
                }
            }
        }

        lines.Sort(StringComparer.Ordinal);
        return lines;
    }

    private static void AddNote(XElement note, string place, List<string> lines)
    {
        if (note.Element("pitch") is { } pitch)
        {
            var alter = Read(pitch.Element("alter")?.Value ?? "0");
            lines.Add($"{place} {pitch.Element("step")!.Value} {Text(alter)} {pitch.Element("octave")!.Value}");
        }
        else if (note.Element("unpitched") is not null)
        {
            lines.Add($"{place} unpitched");
        }

        foreach (var lyric in note.Elements("lyric"))
        {
            var syllabic = "";
            foreach (var child in lyric.Elements())
            {
                if (child.Name.LocalName == "syllabic")
                {
                    syllabic = child.Value;
                }
                else if (child.Name.LocalName == "text")
                {
                    lines.Add($"{place} verse {lyric.Attribute("number")?.Value} '{child.Value}' {syllabic}");
                    syllabic = "";
                }
            }
        }
    }

    private static (BigInteger Above, BigInteger Below) Read(string text)
    {
        var number = decimal.Parse(text, NumberStyles.Float, CultureInfo.InvariantCulture);
        BigInteger below = 1;
        for (; number != decimal.Truncate(number); number *= 10)
        {
            below *= 10;
        }

        return (new BigInteger(number), below);
    }

    // In whole notes: divisions count in a quarter.
    private static (BigInteger, BigInteger) Divided((BigInteger Above, BigInteger Below) time, (BigInteger Above, BigInteger Below) divisions) =>
        (time.Above * divisions.Below, time.Below * divisions.Above * 4);

    private static (BigInteger, BigInteger) Sum((BigInteger Above, BigInteger Below) a, (BigInteger Above, BigInteger Below) b) =>
        ((a.Above * b.Below) + (b.Above * a.Below), a.Below * b.Below);

    private static string Text((BigInteger Above, BigInteger Below) number)
    {
        var divisor = BigInteger.GreatestCommonDivisor(number.Above, number.Below);
        return $"{number.Above / divisor}/{number.Below / divisor}";
    }
}
