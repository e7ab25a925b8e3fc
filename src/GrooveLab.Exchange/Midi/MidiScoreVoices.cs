using System.Globalization;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Midi;

/// <summary>The notes of a part as voices: notes of equal onset and end are a chord; a note that overlaps another goes to the first voice
/// that is free.</summary>
internal sealed class MidiScoreVoices
{
    /// <summary>Maximum number of voices of a part; a keyboard player has ten fingers.</summary>
    public const int MostVoices = 10;

    private const int MostInTuplet = 15;

    private readonly MidiScorePart _part;
    private readonly IReadOnlyDictionary<long, Lyric>? _lyrics;
    private readonly Key[] _keys;
    private readonly List<Span> _starts;
    private readonly List<Span> _lengths;
    private readonly string _name;
    private readonly IReadOnlyDictionary<(int Track, long Tick, int Key), IReadOnlyList<int>> _graces;
    private readonly List<List<Sounding>> _voices = [];
    private readonly Dictionary<(int Bar, long Quarter, int Actual), int> _tuplets = [];

    public MidiScoreVoices(
        MidiScorePart part,
        MidiQuantizer grid,
        IReadOnlyDictionary<long, Lyric>? lyrics,
        Key[] keys,
        List<Span> starts,
        List<Span> lengths,
        string name,
        IReadOnlyDictionary<(int Track, long Tick, int Key), IReadOnlyList<int>> graces)
    {
        _graces = graces;
        (_part, _lyrics, _keys, _starts, _lengths, _name) = (part, lyrics, keys, starts, lengths, name);
        foreach (var chord in Chords(grid))
        {
            Assign(chord);
        }

        foreach (var voice in _voices)
        {
            foreach (var chord in voice)
            {
                Pieces += (1L + BarOf(chord.End) - BarOf(chord.Onset)) * chord.Keys.Count;
            }
        }
    }

    /// <summary>Notes, each counted once for each measure that it touches.</summary>
    public long Pieces { get; }

    /// <summary>Notes that end earlier because all voices sound.</summary>
    public int Shortened { get; private set; }

    /// <summary>The last index whose start is not behind a place.</summary>
    public static int BarAt(int count, Func<int, Span> start, Span at)
    {
        var (low, high) = (0, count - 1);
        while (low < high)
        {
            var middle = (low + high + 1) / 2;
            (low, high) = start(middle) <= at ? (middle, high) : (low, middle - 1);
        }

        return low;
    }

    /// <summary>Writes the part.</summary>
    public WrittenPart Write(string id)
    {
        List<VoiceMeasure>[] measures = [.. _starts.Select(_ => new List<VoiceMeasure>())];
        for (var v = 0; v < _voices.Count; v++)
        {
            WriteVoice(_voices[v], (v + 1).ToString(CultureInfo.InvariantCulture), id, measures);
        }

        return new WrittenPart(id, [.. measures.Select(voices => new PartMeasure { Voices = [.. voices] })])
        {
            Name = _part.Name,
            Instruments = _part.IsPercussion
                ? [.. _part.Notes.Select(note => note.Key).Distinct().Order().Select(key => new PartInstrument(Instrument(id, key), string.Create(CultureInfo.InvariantCulture, $"Percussion {key}")) { PercussionKey = key })]
                : [new PartInstrument($"{id}-I1", _part.Name) { Program = _part.Program }],
            Verses = _lyrics is null ? [] : ["1"],
        };
    }

    private static string Instrument(string id, int key) => string.Create(CultureInfo.InvariantCulture, $"{id}-I{key + 1}");

    private int BarOf(Span at) => BarAt(_starts.Count, i => _starts[i], at);

    private List<Sounding> Chords(MidiQuantizer grid)
    {
        var onsets = _part.Notes.Select(note => note.On).Distinct().ToArray();
        var made = new Dictionary<(Span Onset, Span End), Sounding>();
        var list = new List<Sounding>();
        var limit = _starts[^1] + _lengths[^1];
        foreach (var note in _part.Notes)
        {
            var onset = grid.At(note.On);
            var step = grid.StepAt(note.On);
            var index = Array.BinarySearch(onsets, note.Off);
            index = index < 0 ? ~index : index;

            // An end that is nearly at the next onset is there: players and synthesizers leave small gaps and overlaps.
            var end = grid.At(note.Off);
            foreach (var near in new[] { index - 1, index })
            {
                if (near >= 0 && near < onsets.Length && onsets[near] > note.On && Math.Abs(onsets[near] - note.Off) * 4 <= Math.Min(onsets[near], note.Off) - note.On)
                {
                    end = grid.At(onsets[near]);
                }
            }

            end = Span.Min(end > onset ? end : onset + step, limit);
            if (end <= onset)
            {
                continue;
            }

            if (!made.TryGetValue((onset, end), out var chord))
            {
                made.Add((onset, end), chord = new Sounding(onset, end));
                list.Add(chord);
            }

            if (!chord.Keys.Contains(note.Key))
            {
                chord.Keys.Add(note.Key);
            }

            if (_graces.TryGetValue((_part.Track, note.On, note.Key), out var graces))
            {
                chord.Graces.AddRange(graces);
            }

            chord.Lyric ??= _lyrics?.GetValueOrDefault(note.On);
        }

        // A syllable belongs to the highest notes that start with it.
        var sorted = list.OrderBy(chord => chord.Onset).ThenByDescending(chord => chord.Keys.Max()).ThenByDescending(chord => chord.End).ToList();
        for (var i = 1; i < sorted.Count; i++)
        {
            if (sorted[i].Onset == sorted[i - 1].Onset)
            {
                sorted[i].Lyric = null;
            }
        }

        return sorted;
    }

    private void Assign(Sounding chord)
    {
        foreach (var voice in _voices)
        {
            if (voice[^1].End <= chord.Onset)
            {
                voice.Add(chord);
                return;
            }
        }

        if (_voices.Count < MostVoices)
        {
            _voices.Add([chord]);
            return;
        }

        Shortened++;
        var last = _voices[^1];
        if (last[^1].Onset == chord.Onset)
        {
            last[^1].Keys.AddRange(chord.Keys.Except(last[^1].Keys).ToList());
            return;
        }

        last[^1].End = chord.Onset;
        last.Add(chord);
    }

    private void WriteVoice(List<Sounding> voice, string name, string id, List<VoiceMeasure>[] measures)
    {
        var events = new List<VoiceEvent>();
        var bar = -1;
        var at = Span.Zero;
        void Rest(Span to)
        {
            if (to > at)
            {
                var isWhole = events.Count == 0 && to - at == _lengths[bar];
                events.Add(new RestEvent(isWhole ? null : Value(bar, at, to - at), to - at) { IsWholeMeasure = isWhole });
                at = to;
            }
        }

        void Close()
        {
            if (bar >= 0)
            {
                Rest(_starts[bar] + _lengths[bar]);
                measures[bar].Add(new VoiceMeasure(name, [.. events]));
                events.Clear();
            }
        }

        for (var i = 0; i < voice.Count; i++)
        {
            // A note directly after a sung one is sung on: the file has no sign for it.
            var chord = voice[i];
            var goesOn = i + 1 < voice.Count && voice[i + 1].Lyric is null && voice[i + 1].Onset == chord.End;
            for (var from = chord.Onset; from < chord.End;)
            {
                var inside = BarOf(from);
                if (inside != bar)
                {
                    Close();
                    (bar, at) = (inside, _starts[inside]);
                }

                Rest(from);
                var to = Span.Min(chord.End, _starts[bar] + _lengths[bar]);
                var (isFirst, isLast, measure) = (from == chord.Onset, to == chord.End, bar);
                events.AddRange(isFirst ? chord.Graces.Select(key => TuneBuilder.Grace(_keys[measure].SpellPitch(key))) : []);
                events.Add(new NotesEvent([.. chord.Keys.Order().Select(key => Head(key, id, measure) with
                {
                    TiedFrom = isFirst ? null : new TieEnd(),
                    TiedTo = isLast ? null : new TieEnd(),
                })], Value(bar, from, to - from), to - from)
                {
                    Lyrics = isFirst && chord.Lyric is { } lyric ? [goesOn ? lyric with { Extender = Extender.Start } : lyric] : [],
                    Origin = new Origin(_name, null, string.Create(CultureInfo.InvariantCulture, $"{_part.Place}, measure {bar + 1}")),
                });
                (at, from) = (to, to);
            }
        }

        Close();
    }

    private WrittenNote Head(int key, string id, int measure) => _part.IsPercussion
        ? WrittenNote.Unpitched() with { Instruments = [Instrument(id, key)] }
        : WrittenNote.Of(_keys[measure].SpellPitch(key));

    // A plain value, or one of a tuplet; the notes of a quarter that divide it alike are one tuplet.
    private WrittenValue? Value(int bar, Span at, Span length)
    {
        if (WrittenValue.TryFrom(length, out var plain))
        {
            return plain;
        }

        var below = length.Wholes.Denominator;
        var actual = (int)Math.Min(int.MaxValue, below >> (int)long.TrailingZeroCount(below));
        if (actual is < 3 or > MostInTuplet)
        {
            return null;
        }

        var normal = (int)System.Numerics.BitOperations.RoundUpToPowerOf2((uint)actual) / 2;
        if (!NoteUnit.TryFrom(length * new Rational(actual, normal), out var unit))
        {
            return null;
        }

        var key = (bar, ((at - _starts[bar]) / Span.Of(1, 4)).Floor(), actual);
        if (!_tuplets.TryGetValue(key, out var id))
        {
            _tuplets.Add(key, id = _tuplets.Count + 1);
        }

        return new WrittenValue(unit, new Tuplet(id, actual, normal));
    }

    private sealed class Sounding(Span onset, Span end)
    {
        public Span Onset => onset;

        public Span End { get; set; } = end;

        public List<int> Keys { get; } = [];

        public List<int> Graces { get; } = [];

        public Lyric? Lyric { get; set; }
    }
}
