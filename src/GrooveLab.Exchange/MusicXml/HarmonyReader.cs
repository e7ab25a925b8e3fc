using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>Reads chord symbols.</summary>
internal sealed class HarmonyReader(MeasureReader measure)
{
    private const int MostDegrees = 32;

    public void Read(XmlItem harmony)
    {
        var chords = new List<WrittenChord>();
        foreach (var item in harmony.Children)
        {
            var isStart = item.Name is "root" or "numeral" or "function";
            if (!isStart && chords.Count == 0 && item.Name is "kind" or "inversion" or "bass" or "degree")
            {
                chords.Add(new WrittenChord());
            }

            switch (item.Name)
            {
                case "root":
                    chords.Add(new WrittenChord { Root = LetterOf(item, "root") });
                    break;
                case "numeral":
                    chords.Add(new WrittenChord { Numeral = measure.Part.Marks.DetailOf(item) });
                    break;
                case "function":
                    chords.Add(new WrittenChord { Function = item.Value });
                    break;
                case "kind":
                    chords[^1] = chords[^1] with { Kind = item.Value, KindText = item.Attribute("text") };
                    break;
                case "inversion":
                    chords[^1] = chords[^1] with { Inversion = MusicXmlValues.Int(item.Value) };
                    break;
                case "bass":
                    chords[^1] = chords[^1] with { Bass = LetterOf(item, "bass") };
                    break;
                case "degree":
                    chords[^1] = WithDegree(chords[^1], item);
                    break;
                case "footnote" or "level":
                    measure.Remarks.Loss(item.Line, "remarks of an editor");
                    break;
                case "frame" or "offset" or "staff":
                    break;
                default:
                    measure.Remarks.Loss(item.Line, $"{MusicXmlValues.Short(item.Name)} elements, which are not part of a chord symbol");
                    break;
            }
        }

        if (chords.Count == 0)
        {
            measure.Remarks.Warn(harmony.Line, "a chord symbol is empty", "left it out");
            return;
        }

        var at = measure.Cursor + measure.Offset(harmony);
        measure.Part.Grid.Keep(harmony.Line, chords.Count);
        measure.Add(
            new ChordMark(at, [.. chords.Select(Interpreted)])
            {
                Type = harmony.Attribute("type"),
                Details = harmony.Element("frame") is { } frame ? [measure.Part.Marks.DetailOf(frame)] : [],
                IsHidden = MusicXmlValues.IsHidden(harmony),
            },
            harmony,
            MusicXmlValues.Int(harmony.Text("staff")),
            null);

        // The symbol is as written in the part; a transposing part's is moved to what sounds.
        WrittenChord Interpreted(WrittenChord chord)
        {
            var symbol = ChordKinds.SymbolOf(chord);
            if (symbol is null)
            {
                measure.Remarks.Warn(harmony.Line, "a chord symbol has no meaning as a chord of the band", "kept it as written");
            }

            return symbol is null ? chord with { ToSounding = measure.ToSounding } : chord with { Symbol = measure.Sounding(symbol) };
        }
    }

    private static WrittenChord WithDegree(WrittenChord chord, XmlItem degree)
    {
        if (chord.Degrees.Count == MostDegrees)
        {
            throw new MusicXmlFault(degree.Line, "a chord symbol has too many degrees");
        }

        var alter = degree.Has("degree-alter") ? MusicXmlValues.Number(degree, "degree-alter") : Rational.Zero;
        return chord with
        {
            Degrees =
            [
                .. chord.Degrees,
                new ChordDegreeChange(MusicXmlValues.Int(degree, "degree-value", 1, 99), alter, MusicXmlValues.Needed(degree, "degree-type").Value.Trim()),
            ],
        };
    }

    private static ChordLetter LetterOf(XmlItem item, string name)
    {
        var step = MusicXmlValues.Needed(item, name + "-step");
        Rational? alter = item.Has(name + "-alter") ? MusicXmlValues.Number(item, name + "-alter") : null;
        return alter is null || alter.Value.Abs() <= SpelledPitch.FurthestAlter
            ? new ChordLetter(MusicXmlValues.Letter(item, name + "-step"), alter) { Text = step.Attribute("text") }
            : throw new MusicXmlFault(item.Line, $"{name}-alter must be -4 to 4, not '{MusicXmlValues.Short(item.Text(name + "-alter")!)}'");
    }
}
