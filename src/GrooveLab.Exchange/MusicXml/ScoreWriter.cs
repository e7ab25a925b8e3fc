using System.Xml;
using GrooveLab.Music.Band;
using GrooveLab.Music.Notation;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>Writes the headings, the list of parts and the parts of a score.</summary>
internal sealed class ScoreWriter
{
    private const string Program = "GrooveLab";
    private const int PercussionChannel = 10;
    private const int Channels = 16;

    private static readonly string[] InWork = ["work-number", "work-title"];
    private static readonly string[] InIdentification = ["creator", "rights"];

    private readonly WrittenMusic _music;
    private readonly ScoreXml _xml;
    private readonly ScoreIds _ids;

    public ScoreWriter(WrittenMusic music, ScoreXml xml)
    {
        _music = music;
        _xml = xml;
        _ids = new ScoreIds(music);
    }

    public void Write()
    {
        _xml.Declare();
        _xml.Line();
        _xml.Open("score-partwise");
        _xml.Attribute("version", "4.0");
        if (_music.Headings.Any(heading => InWork.Contains(heading.Kind)))
        {
            _xml.Line();
            _xml.Open("work");
            Headings(InWork);
            _xml.Close();
        }

        Headings("movement-number", "movement-title");
        _xml.Line();
        _xml.Open("identification");
        Headings(InIdentification);
        Encoding();
        Headings("source", "relation");
        _xml.Close();
        _xml.Line();
        _xml.Open("part-list");
        for (var i = 0; i < _music.Parts.Count; i++)
        {
            Listed(i);
        }

        _xml.Close();
        for (var i = 0; i < _music.Parts.Count; i++)
        {
            new PartWriter(_music, i, _ids, _xml).Write();
        }

        _xml.Close();
        _xml.Line();
        _xml.Flush();
    }

    private void Headings(params ReadOnlySpan<string> kinds)
    {
        foreach (var kind in kinds)
        {
            foreach (var heading in _music.Headings)
            {
                if (heading.Kind == kind)
                {
                    _xml.Open(kind);
                    _xml.Attribute("type", heading.Type);
                    _xml.Text(heading.Text);
                    _xml.Close();
                }
            }
        }
    }

    // Programs that know that a score says its beams and accidentals do not make their own.
    private void Encoding()
    {
        _xml.Open("encoding");
        _xml.Element("software", Program);
        Supports("accidental", _music.Parts.Any(part => Events(part).OfType<NotesEvent>().Any(notes => notes.Notes.Any(head => head.Accidental is not null))));
        Supports("beam", _music.Parts.Any(part => Events(part).OfType<NotesEvent>().Any(notes => notes.Beams.Count > 0)));
        _xml.Close();
    }

    private static IEnumerable<VoiceEvent> Events(WrittenPart part) =>
        part.Measures.SelectMany(measure => measure.Voices).SelectMany(voice => voice.Events);

    private void Supports(string element, bool isWritten)
    {
        if (isWritten)
        {
            _xml.Open("supports");
            _xml.Attribute("element", element);
            _xml.Attribute("type", "yes");
            _xml.Close();
        }
    }

    private void Listed(int index)
    {
        var part = _music.Parts[index];
        _xml.Line();
        _xml.Open("score-part");
        _xml.Attribute("id", _ids.Part(index));
        if (part.Role is { } role)
        {
            _xml.Open("identification");
            _xml.Open("miscellaneous");
            _xml.Open("miscellaneous-field");
            _xml.Attribute("name", MusicXmlWords.RoleOfPart);
            _xml.Text(role.Name());
            _xml.Close();
            _xml.Close();
            _xml.Close();
        }

        _xml.Open("part-name");
        _xml.Text(part.Name);
        _xml.Close();
        _xml.Element("part-abbreviation", part.Abbreviation);
        foreach (var instrument in part.Instruments.DistinctBy(one => one.Id, StringComparer.Ordinal))
        {
            _xml.Open("score-instrument");
            _xml.Attribute("id", _ids.Instrument(index, instrument.Id));
            _xml.Element("instrument-name", instrument.Name);
            _xml.Element("instrument-sound", instrument.Sound);
            _xml.Close();
        }

        foreach (var instrument in part.Instruments.DistinctBy(one => one.Id, StringComparer.Ordinal))
        {
            if (instrument.Program is null && instrument.PercussionKey is null)
            {
                continue;
            }

            _xml.Open("midi-instrument");
            _xml.Attribute("id", _ids.Instrument(index, instrument.Id));
            _xml.Element("midi-channel", instrument.PercussionKey is null ? Channel(index) : PercussionChannel);
            _xml.Element("midi-program", instrument.Program + 1);
            _xml.Element("midi-unpitched", instrument.PercussionKey + 1);
            _xml.Close();
        }

        _xml.Close();
    }

    // A channel for each part, as far as they go; that of percussion is left free.
    private static int Channel(int part)
    {
        var channel = (part % (Channels - 1)) + 1;
        return channel < PercussionChannel ? channel : channel + 1;
    }
}

/// <summary>The ids of a score's parts and instruments, as XML demands them: names without spaces, each once in the score. An id that is one already stays
/// as it is.</summary>
internal sealed class ScoreIds
{
    private readonly string[] _parts;
    private readonly Dictionary<(int Part, string Id), string> _instruments = [];
    private readonly Dictionary<string, int> _indexOfPart = new(StringComparer.Ordinal);

    public ScoreIds(WrittenMusic music)
    {
        var taken = new HashSet<string>(StringComparer.Ordinal);
        _parts = new string[music.Parts.Count];
        foreach (var (index, part) in music.Parts.Index())
        {
            _indexOfPart[part.Id] = index;
            if (IsName(part.Id) && taken.Add(part.Id))
            {
                _parts[index] = part.Id;
            }
        }

        for (var i = 0; i < _parts.Length; i++)
        {
            _parts[i] ??= Free("P" + ScoreXml.TextOf(i + 1), taken);
        }

        foreach (var (index, part) in music.Parts.Index())
        {
            foreach (var instrument in part.Instruments.DistinctBy(one => one.Id, StringComparer.Ordinal))
            {
                var id = IsName(instrument.Id) && taken.Add(instrument.Id) ? instrument.Id : Free(_parts[index] + "-I1", taken);
                _instruments.TryAdd((index, instrument.Id), id);
            }
        }
    }

    public string Part(int index) => _parts[index];

    /// <summary>The index of the part of an id; null for none.</summary>
    public int? IndexOf(string part) => _indexOfPart.TryGetValue(part, out var index) ? index : null;

    /// <summary>The id of a part's instrument in the file.</summary>
    public string Instrument(int part, string id) => _instruments[(part, id)];

    /// <summary>The id of a part's instrument in the file; null if the part has no such instrument.</summary>
    public string? Known(int part, string id) => _instruments.GetValueOrDefault((part, id));

    private static string Free(string wanted, HashSet<string> taken)
    {
        var id = wanted;
        for (var copy = 2; !taken.Add(id); copy++)
        {
            id = wanted + "-" + ScoreXml.TextOf(copy);
        }

        return id;
    }

    private static bool IsName(string id)
    {
        if (id.Length == 0 || !(XmlConvert.IsStartNCNameChar(id[0])))
        {
            return false;
        }

        return id.All(XmlConvert.IsNCNameChar);
    }
}
