using System.Globalization;
using System.Xml;
using GrooveLab.Exchange.Scores;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>Reads MusicXML 4.0 and earlier versions: partwise and timewise scores, plain and compressed (.mxl).</summary>
/// <remarks>
/// Source: MusicXML 4.0, W3C Community Final Specification. Files are not trusted: a document type is neither fetched nor expanded, entities
/// are refused, and archives are limited in number, size and ratio. Work is linear in the text; memory is bounded by the limits of
/// docs/musicxml.md. Pitches are as written; <see cref="PartTransposition"/> gives those that sound.
/// </remarks>
public static class MusicXmlScoreReader
{
    /// <summary>Reads a score.</summary>
    /// <param name="bytes">The whole file.</param>
    /// <param name="options">The file's name; nothing else is used.</param>
    /// <returns>The music, or all errors found, at most a hundred.</returns>
    public static ScoreReading Read(ReadOnlyMemory<byte> bytes, ScoreOptions options)
    {
        var remarks = new MusicXmlRemarks(options.Name);
        try
        {
            var music = ReadMusic(bytes, options.Name, remarks);
            if (!remarks.HasErrors)
            {
                return new ScoreReading(music, remarks.Warnings, remarks.NotCarried);
            }
        }
        catch (MusicXmlRefusal refusal)
        {
            remarks.Path = refusal.Path ?? remarks.Path;
            remarks.Error(refusal.Line, refusal.Message, refusal.Remedy);
        }
        catch (XmlException found)
        {
            remarks.Error(Math.Max(1, found.LineNumber), $"the file is not well-formed XML: {Plain(found)}", "save the score again; it may be incomplete");
        }

        return new ScoreReading(remarks.Errors, remarks.Warnings);
    }

    // Without the place, which the remark has.
    private static string Plain(XmlException found)
    {
        // The first sentence; the place is told apart.
        var at = found.Message.IndexOf(". ", StringComparison.Ordinal);
        return MusicXmlValues.Short((at < 0 ? found.Message : found.Message[..at]).TrimEnd('.'));
    }

    private static WrittenMusic ReadMusic(ReadOnlyMemory<byte> bytes, string name, MusicXmlRemarks remarks)
    {
        if (bytes.Length > MusicXmlLimits.MostBytes)
        {
            throw new MusicXmlRefusal(null, string.Create(CultureInfo.InvariantCulture, $"the file has more than {MusicXmlLimits.MostBytes >> 20} MB"));
        }

        if (!MusicXmlArchive.IsArchive(bytes.Span))
        {
            return ReadText(() => MusicXmlText.Stream(bytes), name, remarks);
        }

        using var archive = new MusicXmlArchive(bytes, remarks);
        var score = archive.Score();
        return ReadText(() => archive.Open(score), name, remarks);
    }

    private static WrittenMusic ReadText(Func<Stream> open, string name, MusicXmlRemarks remarks)
    {
        using var text = MusicXmlText.Open(open, remarks);
        using var xml = new XmlItemReader(text);
        var music = new ScoreBody(remarks).Read(xml, name);
        if (text.FirstUnreadableLine is { } line)
        {
            remarks.Path = null;
            remarks.Warn(line, "some characters are not in the file's encoding", "read them as \uFFFD; save the file as UTF-8");
        }

        return music;
    }

    /// <summary>Reads the elements of the score itself.</summary>
    private sealed class ScoreBody(MusicXmlRemarks remarks)
    {
        private readonly ScoreGrid _grid = new(remarks);
        private readonly Dictionary<string, XmlItem> _listed = new(StringComparer.Ordinal);
        private readonly List<PartReader> _parts = [];
        private readonly Dictionary<string, PartReader> _partsById = new(StringComparer.Ordinal);
        private readonly List<Heading> _headings = [];

        public WrittenMusic Read(XmlItemReader xml, string name)
        {
            xml.ToRoot();
            var isTimewise = xml.Name == "score-timewise";
            if (!isTimewise && xml.Name != "score-partwise")
            {
                throw new MusicXmlRefusal(
                    xml.Line,
                    $"the file is XML but no MusicXML score: it begins with {MusicXmlValues.Short(xml.Name)}",
                    "a score begins with score-partwise or score-timewise");
            }

            var depth = xml.Depth;
            if (xml.Enter())
            {
                while (xml.NextInside(depth))
                {
                    ReadChild(xml, isTimewise);
                }

                xml.Leave();
            }

            // The end of the file is read too: what follows the score must be well-formed.
            xml.ToEnd();
            return Build(name, xml.Line);
        }

        private void ReadChild(XmlItemReader xml, bool isTimewise)
        {
            if (XmlItemReader.IsDrawing(xml.Name))
            {
                xml.Skip();
            }
            else if (!isTimewise && xml.Name == "part")
            {
                ReadPart(xml);
            }
            else if (isTimewise && xml.Name == "measure")
            {
                ReadMeasure(xml);
            }
            else
            {
                remarks.Path = null;
                ReadHeader(xml.ReadItem());
            }
        }

        private void ReadPart(XmlItemReader xml)
        {
            var part = NewPart(xml.Attribute("id"), xml.Line);
            var depth = xml.Depth;
            if (!xml.Enter())
            {
                return;
            }

            while (xml.NextInside(depth))
            {
                if (xml.Name == "measure")
                {
                    part.Read(xml, MeasureHeader.Of(xml));
                }
                else
                {
                    remarks.Loss(xml.Line, $"{MusicXmlValues.Short(xml.Name)} elements, which are not part of a part");
                    xml.Skip();
                }
            }

            xml.Leave();
        }

        private void ReadMeasure(XmlItemReader xml)
        {
            var header = MeasureHeader.Of(xml);
            var depth = xml.Depth;
            if (!xml.Enter())
            {
                return;
            }

            var index = _parts.Count == 0 ? 0 : _parts.Max(part => part.Count);
            while (xml.NextInside(depth))
            {
                if (xml.Name != "part")
                {
                    remarks.Loss(xml.Line, $"{MusicXmlValues.Short(xml.Name)} elements, which are not part of a measure");
                    xml.Skip();
                    continue;
                }

                var id = xml.Attribute("id") ?? "";
                if (!_partsById.TryGetValue(id, out var part))
                {
                    part = NewPart(id, xml.Line);
                    _partsById[id] = part;
                }

                part.FillTo(index);
                part.Read(xml, header);
            }

            xml.Leave();
        }

        private PartReader NewPart(string? id, int line)
        {
            if (_parts.Count == MusicXmlLimits.MostParts)
            {
                throw new MusicXmlRefusal(line, string.Create(CultureInfo.InvariantCulture, $"the score has more than {MusicXmlLimits.MostParts} parts"));
            }

            remarks.Path = null;
            var unique = id;
            if (string.IsNullOrEmpty(id))
            {
                unique = string.Create(CultureInfo.InvariantCulture, $"part {_parts.Count + 1}");
                remarks.Warn(line, "a part has no id", $"called it '{unique}'");
            }

            for (var copy = 2; _parts.Exists(part => part.Id == unique); copy++)
            {
                unique = string.Create(CultureInfo.InvariantCulture, $"{id} ({copy})");
                remarks.Warn(line, $"two parts have the id '{MusicXmlValues.Short(id ?? "")}'", "read both");
            }

            if (!_listed.ContainsKey(unique!))
            {
                remarks.Warn(line, $"the part '{MusicXmlValues.Short(unique!)}' is not in the part-list", "read it without a name");
            }

            var part = new PartReader(unique!, remarks, _grid);
            _parts.Add(part);
            return part;
        }

        private void ReadHeader(XmlItem item)
        {
            switch (item.Name)
            {
                case "work" or "identification":
                    foreach (var child in item.Children)
                    {
                        ReadHeading(child);
                    }

                    break;
                case "part-list":
                    ReadPartList(item);
                    break;
                default:
                    ReadHeading(item);
                    break;
            }
        }

        private void ReadHeading(XmlItem item)
        {
            switch (item.Name)
            {
                case "work-number" or "work-title" or "movement-number" or "movement-title" or "source" or "creator" or "rights" or "relation":
                    _grid.Keep(item.Line);
                    _headings.Add(new Heading(item.Name, item.Attribute("type"), item.Value));
                    break;
                case "miscellaneous":
                    break;
                case "opus":
                    remarks.Loss(item.Line, "links to other scores");
                    break;
                default:
                    remarks.Loss(item.Line, $"{MusicXmlValues.Short(item.Name)} elements of the score");
                    break;
            }
        }

        private void ReadPartList(XmlItem list)
        {
            foreach (var part in list.Elements("score-part"))
            {
                if (!_listed.TryAdd(part.Attribute("id") ?? "", part))
                {
                    remarks.Warn(part.Line, "two entries of the part-list have the same id", "used the first");
                }

                foreach (var child in part.Children)
                {
                    if (child.Name == "midi-device" || (child.Name == "midi-instrument" && child.Children.Exists(IsPlayback)))
                    {
                        remarks.Loss(child.Line, "playback settings (volume, pan, MIDI channel, device)");
                    }
                    else if (child.Name == "identification" && child.Children.TrueForAll(one => one.Name == "miscellaneous"))
                    {
                        continue;
                    }
                    else if (child.Name is "identification" or "player" or "part-link" or "group")
                    {
                        remarks.Loss(child.Line, $"{child.Name} elements in the part-list");
                    }
                }
            }
        }

        private static bool IsPlayback(XmlItem item) => item.Name is "midi-channel" or "midi-name" or "midi-bank" or "volume" or "pan" or "elevation";

        private WrittenMusic Build(string name, int line)
        {
            remarks.Path = null;
            if (_grid.Count == 0)
            {
                throw new MusicXmlRefusal(line, "the score has no measures");
            }

            if ((long)_grid.Count * _parts.Count > MusicXmlLimits.MostPartMeasures)
            {
                throw new MusicXmlRefusal(line, string.Create(
                    CultureInfo.InvariantCulture, $"the score has more than {MusicXmlLimits.MostPartMeasures} measures in all parts"));
            }

            foreach (var id in _listed.Keys.Where(id => !_parts.Exists(part => part.Id == id)))
            {
                remarks.Warn(_listed[id].Line, $"the part-list names the part '{MusicXmlValues.Short(id)}', which has no music", "left it out");
            }

            var parts = _parts.ConvertAll(part => part.Build(_listed.GetValueOrDefault(part.Id), line));
            var measures = _grid.Build();
            CheckLengths(measures);
            JumpsFromWords.Add(measures, _grid.WordJumps, remarks);
            parts = parts.ConvertAll(part => PartCompletion.Complete(part, measures.Length, index => _grid[index].Extent, remarks));
            return new WrittenMusic([.. measures], [.. parts]) { Headings = [.. _headings], Origin = new Origin(name, null, null) };
        }

        // What follows adds the lengths of all measures exactly.
        private void CheckLengths(Measure[] measures)
        {
            WrittenMeter? meter = null;
            var sum = Span.Zero;
            foreach (var measure in measures)
            {
                meter = measure.Meter ?? meter;
                try
                {
                    var length = measure.ActualLength ?? meter?.Length ?? Span.Zero;
                    sum += length;
                    if (measure.ActualLength is { } actual && meter?.Length is { } full)
                    {
                        remarks.Path = measure.Origin?.Path;
                        if (actual > full)
                        {
                            remarks.Warn(measure.Origin?.Line, "a measure is longer than its time signature", "kept its length");
                        }
                    }
                }
                catch (OverflowException)
                {
                    remarks.Path = measure.Origin?.Path;
                    remarks.Error(measure.Origin?.Line, "the lengths of the measures up to here are too fine to be added exactly");
                    return;
                }
            }

            remarks.Path = null;
        }
    }
}
