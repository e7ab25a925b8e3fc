using System.Globalization;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>Reads directions and sounds: tempo, jumps, rehearsal marks, words, dynamics and so on.</summary>
internal sealed class DirectionReader(MeasureReader measure)
{
    private static readonly string[] Settings = ["dynamics", "pizzicato", "damper-pedal", "soft-pedal", "sostenuto-pedal"];
    private const int MostTied = 16;

    private MusicXmlRemarks Remarks => measure.Remarks;

    private NotationMarks Marks => measure.Part.Marks;

    /// <summary>A sound outside a direction.</summary>
    public void ReadSoundAlone(XmlItem sound) => ReadSound(sound, measure.Cursor + measure.Offset(sound), null, null, []);

    public void Read(XmlItem direction)
    {
        var offset = direction.Element("offset");
        var at = measure.Cursor + measure.Offset(direction);
        var staff = MusicXmlValues.Int(direction.Text("staff"));
        var voice = direction.Text("voice");
        var sound = direction.Element("sound");
        var soundAt = sound?.Element("offset") is not null ? measure.Cursor + measure.Offset(sound)
            : offset?.Attribute("sound") == "yes" ? at
            : measure.Cursor;
        var types = direction.Elements("direction-type").SelectMany(type => type.Children).ToList();
        var hasSoundTempo = sound?.Attribute("tempo") is not null || sound?.Has("swing") == true;
        var tempo = hasSoundTempo || types.Exists(type => type.Name == "metronome" || (type.Name == "words" && WordsOverScore.IsTempo(type.Value)));
        var jumps = sound is null ? [] : JumpsOf(sound);
        var isForAll = tempo || direction.Attribute("system") is not null || jumps.Count > 0;
        var sign = new TempoSign(at);
        var words = new List<string>();
        var metronomes = new List<Metronome>();
        var drawn = new List<XmlItem>();
        foreach (var type in types)
        {
            switch (type.Name)
            {
                case "rehearsal":
                    measure.Add(new RehearsalMark(at, type.Value), type, staff, voice);
                    if (jumps.Count == 0 && WordsOverScore.Jump(type.Value) is { Kind: JumpKind.Coda or JumpKind.Segno } target)
                    {
                        measure.Part.Grid.WordJumps.Add(new WordJump(measure.Index, at, target.Kind, false, Remarks.At(type.Line)));
                    }

                    break;
                case "words" when WordsOverScore.Jump(type.Value) is { } jump && jumps.Count == 0:
                    measure.Add(new WordsMark(at, type.Value), type, staff, voice);
                    measure.Part.Grid.WordJumps.Add(new WordJump(measure.Index, at, jump.Kind, jump.ToCoda, Remarks.At(type.Line)));
                    break;
                case "words" when tempo:
                    words.Add(type.Value);
                    break;
                case "words" when isForAll:
                    measure.Add(new WordsMark(at, type.Value), type, staff, voice);
                    break;
                case "metronome":
                    if (MetronomeOf(type) is { } metronome)
                    {
                        metronomes.Add(metronome);
                    }

                    break;
                case "segno" or "coda":
                    drawn.Add(type);
                    break;
                case "dynamics":
                    foreach (var mark in Marks.Dynamics(type))
                    {
                        measure.Place(at, type.Line, mark, staff, voice);
                    }

                    break;
                case "words":
                    if (type.Value.Length > 0)
                    {
                        measure.Place(at, type.Line, new Mark(MarkKind.Words) { Text = type.Value }, staff, voice);
                    }

                    break;
                default:
                    measure.Place(at, type.Line, Marks.MarkOf(type), staff, voice);
                    break;
            }
        }

        sign = sign with { Words = [.. words], Metronomes = [.. metronomes] };
        var together = at == soundAt;
        ReadSound(sound, soundAt, direction, together ? sign : null, together ? drawn : []);
        if (!together && (words.Count > 0 || metronomes.Count > 0))
        {
            measure.Add(sign, direction, staff, voice);
        }

        foreach (var one in drawn)
        {
            measure.Add(
                new JumpMark(at, one.Name == "segno" ? JumpKind.Segno : JumpKind.Coda) { IsDrawn = true, Sounds = false }, one, staff, voice);
        }

        foreach (var child in direction.Children)
        {
            ListLoss(child);
        }
    }

    private void ListLoss(XmlItem child)
    {
        if (child.Name is "footnote" or "level")
        {
            Remarks.Loss(child.Line, "remarks of an editor");
        }
        else if (child.Name == "listening")
        {
            Remarks.Loss(child.Line, "instructions for listening programs");
        }
        else if (child.Name is not ("direction-type" or "offset" or "voice" or "staff" or "sound"))
        {
            Remarks.Loss(child.Line, $"{MusicXmlValues.Short(child.Name)} elements, which are not part of a direction");
        }
    }

    private static List<(JumpKind Kind, string Name)> JumpsOf(XmlItem sound)
    {
        var jumps = new List<(JumpKind Kind, string Name)>();
        foreach (var (name, value) in sound.Attributes)
        {
            JumpKind? kind = name switch
            {
                "segno" => JumpKind.Segno,
                "coda" => JumpKind.Coda,
                "tocoda" => JumpKind.ToCoda,
                "dacapo" when value == "yes" => JumpKind.DaCapo,
                "dalsegno" => JumpKind.DalSegno,
                "fine" => JumpKind.Fine,
                "forward-repeat" when value == "yes" => JumpKind.ForwardRepeat,
                _ => null,
            };
            if (kind is { } known)
            {
                jumps.Add((known, value));
            }
        }

        return jumps;
    }

    // A drawn sign that belongs to the sound leaves the list.
    private void ReadSound(XmlItem? sound, Span at, XmlItem? direction, TempoSign? sign, List<XmlItem> drawn)
    {
        var staff = MusicXmlValues.Int(direction?.Text("staff"));
        var voice = direction?.Text("voice");
        var tempo = sign ?? new TempoSign(at);
        if (sound is not null)
        {
            tempo = tempo with
            {
                SoundQuarters = TempoOf(sound),
                Swing = sound.Element("swing") is { } swing ? Marks.DetailOf(swing) : null,
            };
            foreach (var (kind, name) in JumpsOf(sound))
            {
                // "To Coda" and "D.S." may show the sign to which they lead.
                var shown = kind switch
                {
                    JumpKind.Segno or JumpKind.DalSegno => "segno",
                    JumpKind.Coda or JumpKind.ToCoda => "coda",
                    _ => null,
                };
                var joined = shown is null ? -1 : drawn.FindIndex(one => one.Name == shown);
                if (joined >= 0)
                {
                    drawn.RemoveAt(joined);
                }

                measure.Add(
                    new JumpMark(at, kind)
                    {
                        Name = name,
                        IsDrawn = joined >= 0,
                        Passes = MusicXmlValues.Passes(sound.Attribute("time-only"), sound.Line),
                    },
                    sound,
                    staff,
                    voice);
            }

            foreach (var name in Settings)
            {
                if (sound.Attribute(name) is { } set)
                {
                    measure.Place(
                        at, sound.Line, new Mark(MarkKind.SoundSetting) { Text = name, Details = [new Detail("value", set)] }, staff, voice);
                }
            }

            ListLosses(sound);
        }

        if (tempo.Words.Count > 0 || tempo.Metronomes.Count > 0 || tempo.SoundQuarters is not null || tempo.Swing is not null)
        {
            measure.Add(tempo, sound ?? direction!, staff, voice);
        }
    }

    private void ListLosses(XmlItem sound)
    {
        if (sound.Attribute("pan") is not null || sound.Attribute("elevation") is not null)
        {
            Remarks.Loss(sound.Line, "playback settings (volume, pan, MIDI channel, device)");
        }

        if (sound.Attribute("divisions") is not null)
        {
            Remarks.Loss(sound.Line, "positions in a device's own ticks");
        }

        foreach (var child in sound.Children)
        {
            switch (child.Name)
            {
                case "offset" or "swing":
                    break;
                case "midi-device" or "midi-instrument" or "play":
                    Remarks.Loss(child.Line, "playback settings (volume, pan, MIDI channel, device)");
                    break;
                case "instrument-change":
                    Remarks.Loss(child.Line, "changes of the sound that plays a part");
                    break;
                default:
                    Remarks.Loss(child.Line, $"{MusicXmlValues.Short(child.Name)} elements, which are not part of a sound");
                    break;
            }
        }
    }

    private Rational? TempoOf(XmlItem sound)
    {
        if (sound.Attribute("tempo") is not { } text)
        {
            return null;
        }

        if (!MusicXmlValues.TryNumber(text, out var quarters) || quarters.Sign < 0 || quarters > MusicXmlLimits.FastestTempo)
        {
            throw new MusicXmlFault(sound.Line, string.Create(
                CultureInfo.InvariantCulture,
                $"tempo must be a number of quarter notes per minute, at most {MusicXmlLimits.FastestTempo}, not '{MusicXmlValues.Short(text)}'"));
        }

        if (quarters.Sign == 0)
        {
            Remarks.Warn(sound.Line, "a tempo is 0", "left it out");
            return null;
        }

        return quarters;
    }

    private Metronome? MetronomeOf(XmlItem metronome)
    {
        var beats = new List<BeatUnit>();
        for (var i = 0; i < metronome.Children.Count; i++)
        {
            var item = metronome.Children[i];
            if (item.Name == "beat-unit")
            {
                if (MusicXmlValues.Unit(item.Value, metronome.CountAfter(i, "beat-unit-dot")) is not { } unit)
                {
                    Remarks.Warn(item.Line, $"'{MusicXmlValues.Short(item.Value)}' is no beat of a metronome mark", "left the mark out");
                    return null;
                }

                beats.Add(new BeatUnit(unit, []));
            }
            else if (item.Name == "beat-unit-tied" && beats.Count > 0)
            {
                if (MusicXmlValues.Unit(item.Text("beat-unit"), item.Elements("beat-unit-dot").Count()) is not { } tied || beats[^1].Tied.Count == MostTied)
                {
                    Remarks.Warn(item.Line, "a tied beat of a metronome mark is no note value", "left the mark out");
                    return null;
                }

                beats[^1] = beats[^1] with { Tied = [.. beats[^1].Tied, tied] };
            }
        }

        var perMinute = metronome.Text("per-minute");
        if (MusicXmlValues.TryNumber(perMinute, out var number) && number > MusicXmlLimits.FastestTempo)
        {
            Remarks.Warn(metronome.Line, $"a metronome mark of {MusicXmlValues.Short(perMinute!)} is too fast", "left the mark out");
            return null;
        }

        return new Metronome(beats.Count > 0 ? beats[0] : null)
        {
            PerMinute = perMinute,
            SameAs = beats.Count > 1 ? beats[1] : null,
            Figure = beats.Count > 0 ? [] : Marks.DetailsOf(metronome, "parentheses", "print-object"),
            InParentheses = MusicXmlValues.YesNo(metronome.Attribute("parentheses")),
            IsHidden = MusicXmlValues.IsHidden(metronome),
        };
    }
}
