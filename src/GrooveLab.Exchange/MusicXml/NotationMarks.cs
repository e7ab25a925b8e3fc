using GrooveLab.Music.Notation;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>Reads marks with their rare details.</summary>
internal sealed class NotationMarks(MusicXmlRemarks remarks, ScoreGrid grid)
{
    /// <summary>The attributes and elements of an element as details.</summary>
    /// <param name="item">The element.</param>
    /// <param name="apart">Attributes that are kept elsewhere.</param>
    public ValueList<Detail> DetailsOf(XmlItem item, params ReadOnlySpan<string> apart)
    {
        if (item.Attributes.Count == 0 && !item.HasElements)
        {
            return [];
        }

        var details = new List<Detail>();
        foreach (var (name, value) in item.Attributes)
        {
            if (name != "id" && !apart.Contains(name))
            {
                details.Add(new Detail("@" + name, value));
            }
        }

        foreach (var child in item.Children)
        {
            details.Add(DetailOf(child));
        }

        grid.Keep(item.Line, details.Count);
        return [.. details];
    }

    /// <summary>An element with all inside it as one detail.</summary>
    public Detail DetailOf(XmlItem item) => new(item.Name, item.HasElements ? "" : item.Value) { Inside = DetailsOf(item) };

    /// <summary>Any mark: its name is its kind, its start or stop its edge, and the rest its details.</summary>
    /// <returns>Null for an unknown one, which is listed as not carried.</returns>
    public Mark? MarkOf(XmlItem item, MarkKind? kind = null)
    {
        kind ??= MusicXmlWords.Kind(item.Name);
        if (kind is null)
        {
            remarks.Loss(item.Line, $"{item.Name} marks");
            return null;
        }

        // A hairpin begins by saying which one it is.
        var hairpin = kind == MarkKind.Wedge && item.Attribute("type") is "crescendo" or "diminuendo" ? item.Attribute("type") : null;
        MarkEdge? edge = item.Attribute("type") switch
        {
            _ when hairpin is not null => MarkEdge.Start,
            "start" => MarkEdge.Start,
            "stop" => MarkEdge.Stop,
            "continue" => MarkEdge.Continue,
            "single" => MarkEdge.Single,
            _ => null,
        };
        grid.Keep(item.Line);
        return new Mark(kind.Value)
        {
            Edge = edge ?? MarkEdge.Single,
            Number = MusicXmlValues.Int(item.Attribute("number")),
            Text = hairpin ?? (item.HasElements || item.Value.Length == 0 ? null : item.Value),
            Details = edge is null ? DetailsOf(item, "number") : DetailsOf(item, "number", "type"),
        };
    }

    public IEnumerable<Mark> Dynamics(XmlItem dynamics)
    {
        foreach (var sign in dynamics.Children)
        {
            grid.Keep(sign.Line);
            yield return sign.Name == "other-dynamics"
                ? new Mark(MarkKind.OtherDynamics) { Text = sign.Value, Details = DetailsOf(sign) }
                : new Mark(MarkKind.Dynamics) { Text = sign.Name };
        }
    }

    /// <summary>The marks on a note.</summary>
    /// <param name="note">The note.</param>
    /// <param name="head">The index of its head in its chord; null for the first.</param>
    /// <param name="marks">Takes them.</param>
    public void OfNote(XmlItem note, int? head, List<Mark> marks)
    {
        foreach (var child in note.Children)
        {
            if (child.Name is "notehead" or "notehead-text")
            {
                Add(MarkOf(child), head, marks);
            }
        }

        foreach (var child in note.Children)
        {
            if (child.Name == "notations")
            {
                foreach (var notation in child.Children)
                {
                    Add(notation, head, marks);
                }
            }
        }
    }

    /// <summary>A lyric.</summary>
    public Lyric LyricOf(XmlItem lyric)
    {
        var parts = new List<LyricPart>();
        WordPlace? place = null;
        XmlItem? elision = null;
        XmlItem? extend = null;
        var (sound, endsLine, endsParagraph) = (WordlessSound.None, false, false);
        foreach (var child in lyric.Children)
        {
            switch (child.Name)
            {
                case "syllabic":
                    place = child.Value.Trim() switch
                    {
                        "single" => WordPlace.Single,
                        "begin" => WordPlace.Begin,
                        "middle" => WordPlace.Middle,
                        "end" => WordPlace.End,
                        _ => null,
                    };
                    break;
                case "elision":
                    elision = child;
                    break;
                case "text":
                    parts.Add(new LyricPart(child.Value, place)
                    {
                        Join = elision is null ? LyricJoin.None : LyricJoin.Elision,
                        JoinSign = elision?.Value,
                    });
                    (place, elision) = (null, null);
                    break;
                case "extend":
                    extend = child;
                    break;
                case "laughing":
                    sound = WordlessSound.Laughing;
                    break;
                case "humming":
                    sound = WordlessSound.Humming;
                    break;
                case "end-line":
                    endsLine = true;
                    break;
                case "end-paragraph":
                    endsParagraph = true;
                    break;
                default:
                    remarks.Loss(child.Line, $"{child.Name} in lyrics");
                    break;
            }
        }

        grid.Keep(lyric.Line, 1 + parts.Count);
        return new Lyric
        {
            Number = lyric.Attribute("number"),
            Name = lyric.Attribute("name"),
            Parts = [.. parts],
            Extender = extend is null ? Extender.None : extend.Attribute("type") switch
            {
                "start" => Extender.Start,
                "continue" => Extender.Continue,
                "stop" => Extender.Stop,
                _ => Extender.Plain,
            },
            Sound = sound,
            EndsLine = endsLine,
            EndsParagraph = endsParagraph,
            Passes = MusicXmlValues.Passes(lyric.Attribute("time-only"), lyric.Line),
            IsHidden = MusicXmlValues.IsHidden(lyric),
        };
    }

    private static void Add(Mark? mark, int? head, List<Mark> marks)
    {
        if (mark is not null)
        {
            marks.Add(head is null ? mark : mark with { Head = head });
        }
    }

    private void Add(XmlItem notation, int? head, List<Mark> marks)
    {
        switch (notation.Name)
        {
            case "tied" or "tuplet":
                break;
            case "footnote" or "level":
                remarks.Loss(notation.Line, "remarks of an editor");
                break;
            case "articulations" or "technical":
                foreach (var mark in notation.Children)
                {
                    Add(MarkOf(mark), head, marks);
                }

                break;
            case "ornaments":
                foreach (var mark in notation.Children)
                {
                    Add(MarkOf(mark, mark.Name == "accidental-mark" ? MarkKind.OrnamentAccidental : null), head, marks);
                }

                break;
            case "dynamics":
                foreach (var mark in Dynamics(notation))
                {
                    Add(mark, head, marks);
                }

                break;
            default:
                Add(MarkOf(notation), head, marks);
                break;
        }
    }
}
