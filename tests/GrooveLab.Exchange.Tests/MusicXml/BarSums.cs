using System.Numerics;
using System.Xml.Linq;

namespace GrooveLab.Exchange.Tests.MusicXml;

/// <summary>Adds up every bar of a score by walking its XML, without the reader or the model: each voice fills its bar without gaps or overlaps, and each
/// note's duration is that of its value, dots and tuplets.</summary>
internal static class BarSums
{
    private static readonly string[] Types = ["breve", "whole", "half", "quarter", "eighth", "16th", "32nd", "64th", "128th", "256th", "512th", "1024th"];

    public static IReadOnlyList<string> Problems(XDocument score)
    {
        var problems = new List<string>();
        foreach (var part in score.Root!.Elements("part"))
        {
            var (divisions, full) = (BigInteger.One, (Above: BigInteger.Zero, Below: BigInteger.One));
            foreach (var measure in part.Elements("measure"))
            {
                var at = $"part {part.Attribute("id")!.Value}, measure {measure.Attribute("number")!.Value}";
                var (cursor, reach) = (BigInteger.Zero, BigInteger.Zero);
                var ends = new Dictionary<string, BigInteger>(StringComparer.Ordinal);
                foreach (var element in measure.Elements())
                {
                    var duration = BigInteger.Parse(element.Element("duration")?.Value ?? "0", System.Globalization.CultureInfo.InvariantCulture);
                    switch (element.Name.LocalName)
                    {
                        case "attributes":
                            divisions = element.Element("divisions") is { } said ? BigInteger.Parse(said.Value, System.Globalization.CultureInfo.InvariantCulture) : divisions;
                            full = element.Element("time") is { } time ? Length(time) : full;
                            break;
                        case "backup":
                            cursor -= duration;
                            break;
                        case "forward":
                            cursor += duration;
                            if (element.Element("voice") is { } gap)
                            {
                                ends[gap.Value] = cursor;
                            }

                            break;
                        case "note" when element.Element("chord") is null && element.Element("grace") is null:
                            var voice = element.Element("voice")?.Value ?? "";
                            if (ends.GetValueOrDefault(voice) != cursor)
                            {
                                problems.Add($"{at}: voice {voice} goes on at {cursor}, not at {ends.GetValueOrDefault(voice)}");
                            }

                            cursor += duration;
                            ends[voice] = cursor;
                            if (Value(element) is var (above, below) && above * divisions * 4 != below * duration)
                            {
                                problems.Add($"{at}: a duration of {duration} is not its value {element.Element("type")!.Value}");
                            }

                            break;
                    }

                    reach = BigInteger.Max(reach, cursor);
                }

                // Divisions count in a quarter; a pickup is as long as it is.
                if (measure.Attribute("implicit")?.Value != "yes" && reach * full.Below != full.Above * divisions * 4)
                {
                    problems.Add($"{at}: {reach} of {divisions} a quarter, in {full.Above}/{full.Below}");
                }

                problems.AddRange(ends.Where(end => end.Value != reach).Select(end => $"{at}: voice {end.Key} ends at {end.Value} of {reach}"));
            }
        }

        return problems;
    }

    private static (BigInteger Above, BigInteger Below) Length(XElement time)
    {
        var (above, below) = (BigInteger.Zero, BigInteger.One);
        foreach (var (beats, type) in time.Elements("beats").Zip(time.Elements("beat-type")))
        {
            var unit = int.Parse(type.Value, System.Globalization.CultureInfo.InvariantCulture);
            var sum = beats.Value.Split('+').Sum(beat => int.Parse(beat, System.Globalization.CultureInfo.InvariantCulture));
            (above, below) = ((above * unit) + (sum * below), below * unit);
        }

        return (above, below);
    }

    // In whole notes; null for a note or rest without a value, and for a rest that fills its bar.
    private static (BigInteger Above, BigInteger Below)? Value(XElement note)
    {
        if (note.Element("type") is not { } type || note.Element("rest")?.Attribute("measure")?.Value == "yes")
        {
            return null;
        }

        var dots = note.Elements("dot").Count();
        var below = BigInteger.One << Array.IndexOf(Types, type.Value);
        var (above, under) = (2 * ((BigInteger.One << (dots + 1)) - 1), below << dots);
        return note.Element("time-modification") is { } modification
            ? (above * int.Parse(modification.Element("normal-notes")!.Value, System.Globalization.CultureInfo.InvariantCulture),
                under * int.Parse(modification.Element("actual-notes")!.Value, System.Globalization.CultureInfo.InvariantCulture))
            : (above, under);
    }
}
