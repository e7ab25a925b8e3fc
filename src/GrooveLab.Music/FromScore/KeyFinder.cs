using GrooveLab.Music.Analysis;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.FromScore;

/// <summary>The keys of a score: signatures with their modes as written, otherwise the mode from the last chord or note before the next
/// signature.</summary>
internal sealed class KeyFinder
{
    private readonly Key[] _keys;

    /// <summary>Finds the keys.</summary>
    /// <param name="music">The score.</param>
    /// <param name="tune">The tune; null without one.</param>
    public KeyFinder(WrittenMusic music, ScoreLine? tune)
    {
        _keys = new Key[music.Measures.Count];
        var from = 0;
        var written = Signature(music, 0, tune);
        for (var m = 1; m <= music.Measures.Count; m++)
        {
            var next = m < music.Measures.Count ? Signature(music, m, tune) : null;
            if (m < music.Measures.Count && (next is null || SameAs(next, written)))
            {
                continue;
            }

            var key = KeyOf(music, tune, written, from, m);
            Array.Fill(_keys, key, from, m - from);
            (from, written) = (m, next);
        }
    }

    /// <summary>How the first key was found; null if it is written.</summary>
    public string? Remark { get; private set; }

    /// <summary>The key at the start of a measure.</summary>
    public Key At(int measure) => _keys[measure];

    private static bool SameAs(WrittenKey a, WrittenKey? b) => b is not null && a.Fifths == b.Fifths && a.Mode == b.Mode && a.Accidentals.Equals(b.Accidentals);

    // The signature at concert pitch that a measure brings; null if it brings none.
    private static WrittenKey? Signature(WrittenMusic music, int measure, ScoreLine? tune)
    {
        var marks = music.Measures[measure].Marks.OfType<KeyMark>().ToList();
        if (marks.Count == 0)
        {
            return null;
        }

        var part = tune is null ? null : music.Parts[tune.Part];
        var mark = marks.FirstOrDefault(one => part is not null && one.Where.Any(place => place.Part == part.Id)) ?? marks[0];
        if (mark.Key.Fifths is not { } fifths || part is null)
        {
            return mark.Key;
        }

        var moves = new PartTransposition(part).At(measure, Span.Zero)?.Semitones ?? 0;
        var concert = PitchName.Modulo(fifths + (7 * moves) + 6, 12) - 6;
        return moves % 12 == 0 ? mark.Key : new WrittenKey(concert, mark.Key.Mode);
    }

    private Key KeyOf(WrittenMusic music, ScoreLine? tune, WrittenKey? written, int from, int end)
    {
        if (written?.ToKey() is { } key)
        {
            return key;
        }

        var times = new double[12];
        Pitch? lastNote = null;
        if (tune is not null)
        {
            var part = music.Parts[tune.Part];
            var transposition = new PartTransposition(part);
            for (var m = from; m < end; m++)
            {
                var up = transposition.At(m, Span.Zero) ?? Interval.Unison;
                foreach (var notes in part.Measures[m].Voices.Where(voice => voice.Name == tune.Voice).SelectMany(voice => voice.Events).OfType<NotesEvent>())
                {
                    if (notes.Notes.Where(head => head.Pitch is not null).MaxBy(head => head.Pitch!.Value.Sound)?.Pitch is { } pitch && notes.Grace is null)
                    {
                        lastNote = pitch.Transpose(up).Nearest;
                        times[PitchName.Modulo(lastNote.Value.Midi, 12)] += notes.Length.Wholes.ToDouble();
                    }
                }
            }
        }

        var chord = music.Measures.Skip(from).Take(end - from).SelectMany(measure => measure.Chords)
            .Select(mark => ChordReading.Read(mark.Chords[0]).Symbol).LastOrDefault(symbol => symbol is { IsNoChord: false });
        var found = KeySearch.BySignature(written?.Fifths is { } given ? Math.Clamp(given, -7, 7) : null, chord, lastNote, times);
        if (from == 0)
        {
            var why = chord is not null && chord.Root == found.Tonic ? $"the last chord, {chord}" : lastNote is { } note ? $"the notes; the last is {note}" : "the key signature alone";
            Remark = written?.Fifths is null ? $"The key is inferred from {why}." : $"The mode is inferred from {why}.";
        }

        return found;
    }
}
