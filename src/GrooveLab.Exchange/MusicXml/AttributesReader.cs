using System.Globalization;
using GrooveLab.Music.Band;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>Reads what applies from a place on: divisions, key, time, clef, transposition.</summary>
internal sealed class AttributesReader(MeasureReader measure)
{
    private const int MostKeyAccidentals = 32;
    private const int LastLine = 9;
    private const int MostClefOctaves = 2;

    public void Read(XmlItem attributes)
    {
        foreach (var item in attributes.Children)
        {
            try
            {
                ReadOne(item);
            }
            catch (MusicXmlFault fault)
            {
                measure.Remarks.Error(fault.Line, fault.Message, fault.Remedy);
            }
        }
    }

    private void ReadOne(XmlItem item)
    {
        var staff = MusicXmlValues.Int(item.Attribute("number"));
        var marks = measure.Part.Marks;
        switch (item.Name)
        {
            case "divisions":
                measure.Part.Divisions = MusicXmlValues.TryNumber(item.Value, out var divisions) && divisions > 0 && divisions <= MusicXmlLimits.MostDivisions
                    ? divisions
                    : throw new MusicXmlFault(item.Line, string.Create(
                        CultureInfo.InvariantCulture,
                        $"divisions must be above 0 and at most {MusicXmlLimits.MostDivisions}, not '{MusicXmlValues.Short(item.Value)}'"));
                break;
            case "key":
                measure.Add(new KeyMark(measure.Cursor, KeyOf(item)), item, staff, null);
                break;
            case "time":
                measure.AddMeter(new MeterMark(measure.Cursor, MeterOf(item)), item, staff);
                break;
            case "clef":
                if (ClefOf(item) is { } clef)
                {
                    measure.Part.Grid.Keep(item.Line);
                    measure.Add(new PlacedClef(measure.Cursor, clef) { Staff = staff });
                }

                break;
            case "transpose":
                measure.Part.Grid.Keep(item.Line);
                measure.Add(new Transposition(measure.Cursor, Semitones(item))
                {
                    Diatonic = item.Has("diatonic") ? MusicXmlValues.Int(item, "diatonic", -100, 100) : null,
                    Octaves = item.Has("octave-change") ? MusicXmlValues.Int(item, "octave-change", -10, 10) : null,
                    DoubledBelow = item.Element("double") is { } twice ? twice.Attribute("above") != "yes" : null,
                    Staff = staff,
                });
                break;
            case "staves" or "staff-details" or "directive" or "for-part":
                measure.Place(measure.Cursor, item.Line, marks.MarkOf(item));
                break;
            case "measure-style":
                foreach (var style in item.Children)
                {
                    measure.Place(measure.Cursor, style.Line, marks.MarkOf(style), staff);
                }

                break;
            case "footnote" or "level":
                measure.Remarks.Loss(item.Line, "remarks of an editor");
                break;
            default:
                measure.Remarks.Loss(item.Line, $"{MusicXmlValues.Short(item.Name)} elements, which are not part of attributes");
                break;
        }
    }

    // Clefs that the model has no sign for, such as that of a tablature, are drawing only.
    private static StaffClef? ClefOf(XmlItem item)
    {
        if (MusicXmlWords.Sign(item.Text("sign") ?? "") is not { } sign)
        {
            return null;
        }

        var usual = sign switch { ClefSign.G => 2, ClefSign.F => 4, ClefSign.C => 3, _ => 0 };
        var line = MusicXmlValues.Int(item.Text("line")) ?? usual;
        var octaves = MusicXmlValues.Int(item.Text("clef-octave-change")) ?? 0;
        return line is >= 0 and <= LastLine && Math.Abs(octaves) <= MostClefOctaves ? new StaffClef(sign, line, octaves) : null;
    }

    private static Rational Semitones(XmlItem item)
    {
        var chromatic = MusicXmlValues.Number(item, "chromatic");
        return chromatic.Abs() <= 100
            ? chromatic
            : throw new MusicXmlFault(item.Line, $"chromatic must be -100 to 100, not '{MusicXmlValues.Short(item.Text("chromatic")!)}'");
    }

    private WrittenKey KeyOf(XmlItem key)
    {
        var made = key.Has("fifths")
            ? new WrittenKey(MusicXmlValues.Int(key, "fifths", -14, 14), key.Text("mode"))
            : new WrittenKey(OwnAccidentals(key));
        var octaves = new List<KeyOctave>();
        foreach (var octave in key.Elements("key-octave"))
        {
            if (MusicXmlValues.TryInt(octave.Attribute("number"), out var number) && MusicXmlValues.TryInt(octave.Value, out var value))
            {
                octaves.Add(new KeyOctave(number, value, MusicXmlValues.YesNo(octave.Attribute("cancel"))));
            }
            else
            {
                measure.Remarks.Warn(octave.Line, "the octave of a key's accidental is no number", "left it out");
            }
        }

        return made with { Cancels = MusicXmlValues.Int(key.Text("cancel")), Octaves = [.. octaves], IsHidden = MusicXmlValues.IsHidden(key) };
    }

    private static ValueList<KeyAccidental> OwnAccidentals(XmlItem key)
    {
        var made = new List<KeyAccidental>();
        for (var i = 0; i < key.Children.Count; i++)
        {
            var step = key.Children[i];
            if (step.Name != "key-step")
            {
                continue;
            }

            if (i + 1 >= key.Children.Count || key.Children[i + 1].Name != "key-alter"
                || !MusicXmlValues.TryNumber(key.Children[i + 1].Value, out var alter) || alter.Abs() > SpelledPitch.FurthestAlter)
            {
                throw new MusicXmlFault(step.Line, "a key-step needs a key-alter of -4 to 4 after it");
            }

            if (made.Count == MostKeyAccidentals)
            {
                throw new MusicXmlFault(step.Line, string.Create(CultureInfo.InvariantCulture, $"a key has more than {MostKeyAccidentals} accidentals"));
            }

            var sign = i + 2 < key.Children.Count && key.Children[i + 2].Name == "key-accidental" ? key.Children[i + 2].Value : null;
            var owner = new XmlItem("key", step.Line);
            owner.Add(step);
            made.Add(new KeyAccidental(MusicXmlValues.Letter(owner, "key-step"), alter, sign));
        }

        return [.. made];
    }

    private static WrittenMeter MeterOf(XmlItem time)
    {
        var pairs = new List<MeterPair>();
        for (var i = 0; i < time.Children.Count; i++)
        {
            if (time.Children[i].Name == "beats")
            {
                if (i + 1 >= time.Children.Count || time.Children[i + 1].Name != "beat-type")
                {
                    throw new MusicXmlFault(time.Children[i].Line, "the beats of a time signature need a beat-type after them");
                }

                pairs.Add(PairOf(time.Children[i], time.Children[i + 1]));
            }
        }

        var other = time.Element("interchangeable");
        if (pairs.Count == 0 && !time.Has("senza-misura"))
        {
            throw new MusicXmlFault(time.Line, $"the {time.Name} has neither beats nor senza-misura");
        }

        return new WrittenMeter([.. pairs])
        {
            SenzaMisuraSign = time.Text("senza-misura") ?? "",
            Symbol = time.Attribute("symbol"),
            Relation = other?.Text("time-relation"),
            Interchangeable = other is null || time.Name == "interchangeable" ? null : MeterOf(other),
            IsHidden = MusicXmlValues.IsHidden(time),
        };
    }

    private static MeterPair PairOf(XmlItem beats, XmlItem beatType)
    {
        var numbers = beats.Value.Split('+').Select(one => MusicXmlValues.TryInt(one, out var number) ? number : 0).ToList();
        if (numbers.Exists(number => number is < 1 or > MusicXmlLimits.LargestCount) || numbers.Count > MusicXmlLimits.MostPasses)
        {
            throw new MusicXmlFault(
                beats.Line, $"beats must be a number or a sum such as 3+2, not '{MusicXmlValues.Short(beats.Value)}'");
        }

        return MusicXmlValues.TryInt(beatType.Value, out var unit) && unit is >= 1 and <= MusicXmlLimits.LargestCount
            ? new MeterPair([.. numbers], unit)
            : throw new MusicXmlFault(beatType.Line, $"beat-type must be a number such as 4 or 8, not '{MusicXmlValues.Short(beatType.Value)}'");
    }
}
