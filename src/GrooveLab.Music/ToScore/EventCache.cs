using System.Globalization;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.ToScore;

/// <summary>The small objects of a part's score, each made once: a score repeats a few values, rests and note heads thousands of times.</summary>
internal sealed class EventCache(string part)
{
    private static readonly TieEnd Tie = new();

    private readonly Dictionary<NoteUnit, WrittenValue> _values = [];
    private readonly Dictionary<(NoteUnit Unit, int? Staff, bool IsHidden), RestEvent> _rests = [];
    private readonly Dictionary<(Span Length, int? Staff, int Name), VoiceMeasure> _wholeRests = [];
    private readonly Dictionary<Head, ValueList<WrittenNote>> _heads = [];
    private readonly Dictionary<int, string> _names = [];

    /// <summary>What a note head is made of.</summary>
    public readonly record struct Head(SpelledPitch? Pitch, int Key, bool From, bool To, PrintedAccidental? Accidental, int? Staff);

    public string Name(int number)
    {
        if (!_names.TryGetValue(number, out var name))
        {
            _names.Add(number, name = number.ToString(CultureInfo.InvariantCulture));
        }

        return name;
    }

    public WrittenValue Value(NoteUnit unit)
    {
        if (!_values.TryGetValue(unit, out var value))
        {
            _values.Add(unit, value = new WrittenValue(unit));
        }

        return value;
    }

    public RestEvent Rest(NoteUnit unit, int? staff, bool isHidden)
    {
        if (!_rests.TryGetValue((unit, staff, isHidden), out var rest))
        {
            _rests.Add((unit, staff, isHidden), rest = new RestEvent(Value(unit)) { Staff = staff, IsHidden = isHidden });
        }

        return rest;
    }

    public VoiceMeasure WholeRest(int name, Span length, int? staff)
    {
        if (!_wholeRests.TryGetValue((length, staff, name), out var voice))
        {
            _wholeRests.Add((length, staff, name), voice = new VoiceMeasure(Name(name), [WholeRest(length, staff)]));
        }

        return voice;
    }

    public static RestEvent WholeRest(Span length, int? staff) => new(null, length) { IsWholeMeasure = true, Staff = staff };

    /// <summary>A single head.</summary>
    public ValueList<WrittenNote> Single(in Head head)
    {
        if (!_heads.TryGetValue(head, out var list))
        {
            _heads.Add(head, list = [Made(head)]);
        }

        return list;
    }

    /// <summary>A head of a chord.</summary>
    public WrittenNote Of(in Head head) => Single(head)[0];

    private WrittenNote Made(in Head head)
    {
        var note = head.Pitch is { } pitch ? WrittenNote.Of(pitch) : WrittenNote.Unpitched(Percussion.PositionOf(head.Key));
        return note with
        {
            TiedFrom = head.From ? Tie : null,
            TiedTo = head.To ? Tie : null,
            Accidental = head.Accidental,
            Staff = head.Staff,
            Instruments = head.Pitch is null ? [Percussion.IdOf(part, head.Key)] : [],
        };
    }
}
