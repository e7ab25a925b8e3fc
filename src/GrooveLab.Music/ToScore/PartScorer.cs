using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.ToScore;

/// <summary>Writes the music of one part, measure by measure: <see cref="Take"/> collects the notes of the bars in order, <see cref="Finish"/>
/// writes a measure once the bars after it are known.</summary>
internal sealed class PartScorer
{
    /// <summary>Bars after a measure that must be known: a later note may hold an earlier one on or be slurred to it.</summary>
    public const int BarsAhead = 32;

    /// <summary>Lines of a part: those of its upper staff, then those of its lower one.</summary>
    public const int MostLines = 2 * LinesOfAStaff;

    private const int LinesOfAStaff = 4;
    private const int MiddleC = 60;

    private readonly int _part;
    private readonly string _id;
    private readonly Part _player;
    private readonly FormPlan _plan;
    private readonly Interval _toWritten;
    private readonly StaffClef[] _clefs;
    private readonly AccidentalWriter[] _accidentals;
    private readonly RoleMarks _marks;
    private readonly Dictionary<int, List<ScoredNote>> _waiting = [];
    private readonly List<ScoredNote> _latest = [];
    private readonly List<NoteEvent> _graces = [];
    private readonly Dictionary<(Tune Tune, int Line), TuneSource> _sources = [];
    private readonly EventCache _cache;
    private readonly Dictionary<(BarMeter Meter, Span Length, Span Offset), MeasureRhythm> _rhythms = [];
    private List<ScoredChord> _held = [];
    private int _tuplets;

    public PartScorer(int part, string id, Part player, FormPlan plan)
    {
        (_part, _id, _player, _plan) = (part, id, player, plan);
        _clefs = [.. player.Instrument.Staves];
        _accidentals = [.. _clefs.Select(_ => new AccidentalWriter())];
        var sounding = Interval.Between(new Pitch(new PitchName(NoteLetter.C), 4), player.Instrument.WrittenC);
        _toWritten = -sounding;
        _marks = new RoleMarks(player);
        _cache = new EventCache(id);
    }

    public string Id => _id;

    public bool IsUnpitched => _player.Instrument.Unpitched;

    /// <summary>The measures finished so far.</summary>
    public List<PartMeasure> Measures { get; } = [];

    /// <summary>The sharps of the part's own key signature, flats negative.</summary>
    public int FifthsIn(Key key) => Moved(key).Fifths;

    // Up a fifth adds a sharp. With more than seven of them, the same key is written with the other accidentals.
    private (int Fifths, Interval ToWritten) Moved(Key key)
    {
        if (_toWritten == Interval.Unison)
        {
            return (key.Fifths, _toWritten);
        }

        var fifths = key.Fifths + (7 * _toWritten.Semitones) - (12 * _toWritten.Steps);
        return fifths > 7 ? (fifths - 12, _toWritten + new Interval(1, 0))
            : fifths < -7 ? (fifths + 12, _toWritten + new Interval(-1, 0))
            : (fifths, _toWritten);
    }

    /// <summary>Collects the part's notes of a bar.</summary>
    /// <param name="bar">The bar.</param>
    /// <param name="at">Its bar line, from the first one.</param>
    /// <param name="measures">The measures.</param>
    /// <param name="count">How many of them there are up to the end of the bar.</param>
    public void Take(Bar bar, Span at, List<ScoreMeasure> measures, int count)
    {
        _graces.Clear();
        foreach (var note in bar.Notes)
        {
            if (note.Part == _part && (bar.Index >= 0 || note.Written.Tune is not null))
            {
                TakeNote(note, bar, at, measures, count);
            }
        }

        if (_player.Role == Role.Tune && bar.Index >= 0 && !bar.IsEnding)
        {
            TakeDynamics(bar, measures[count - 1]);
        }
    }

    private void TakeNote(NoteEvent note, Bar bar, Span at, List<ScoreMeasure> measures, int count)
    {
        var written = note.Written;
        if (written.Ornament is { } ornament)
        {
            // A consonant held on the beat is the beginning of its own note.
            if (ornament.IsBefore)
            {
                _graces.Add(note);
            }

            return;
        }

        var onset = at + written.Onset;
        var first = measures[0].Start;
        var end = onset + written.Length;
        onset = Span.Max(onset, first);
        var measure = MeasureAt(measures, count, onset);
        var key = measures[measure].Key;
        var pitch = written.Pitch is { } sounding ? AsRead(sounding, key) : (SpelledPitch?)null;
        var staff = _clefs.Length > 1 && note.Key < MiddleC ? 1 : 0;
        var line = Math.Min(written.Tune?.Line ?? written.Voice, LinesOfAStaff - 1) + (staff * LinesOfAStaff);
        var isTune = _player.Role == Role.Tune;
        if (written.Join == NoteJoin.HeldOn && HeldOn(line, onset, end, pitch))
        {
            return;
        }

        if (isTune)
        {
            // The next section's pickup cuts a note that is written longer.
            foreach (var earlier in _latest)
            {
                if (earlier.Line == line && earlier.Onset < onset && earlier.End > onset)
                {
                    earlier.End = onset;
                }
            }
        }

        var run = RunOf(written.Tune, measures[measure], bar);
        var source = written.Tune is { } origin && run?.Section.Tune is { } tune ? SourceOf(tune, origin.Line) : null;
        var made = new ScoredNote(note, line, onset, end)
        {
            Pitch = pitch,
            Graces = _graces.Count == 0 ? [] : GracesOf(written),
            Source = source,
            Tune = source is not null && written.Tune!.Note < source.Voice.Notes.Count ? source.Voice.Notes[written.Tune.Note] : null,
            SectionStart = run is null ? Span.Zero : run.Start - _plan.BarAt(0).Start,
            Lyric = LyricOf(written.Syllable),
            IsHeldAtAStop = bar.Stop == BandStop.Hold && written.Onset < HeldFor(measures[measure]) && written.Onset + written.Length >= HeldFor(measures[measure]),
        };
        if (written.Join == NoteJoin.Slurred)
        {
            Slur(made);
        }

        _latest.RemoveAll(earlier => earlier.Line == line && earlier.End <= onset && earlier.Onset < onset);
        _latest.Add(made);
        if (!_waiting.TryGetValue(measure, out var list))
        {
            _waiting.Add(measure, list = []);
        }

        list.Add(made);
    }

    private SpelledPitch AsRead(Pitch sounding, Key key) =>
        _toWritten == Interval.Unison ? SpelledPitch.Of(sounding) : SpelledPitch.Of(sounding).Transpose(Moved(key).ToWritten);

    private List<NoteEvent> GracesOf(WrittenOrigin written) =>
        [.. _graces.Where(grace => grace.Written.Onset == written.Onset && grace.Written.Tune?.Line == written.Tune?.Line)];

    private static Span HeldFor(ScoreMeasure measure) => measure.Place?.HeldFor is { } held && held > Span.Zero ? held : measure.Length;

    private static int MeasureAt(List<ScoreMeasure> measures, int count, Span place)
    {
        var index = count - 1;
        while (index > 0 && measures[index].Start > place)
        {
            index--;
        }

        return index;
    }

    private bool HeldOn(int line, Span onset, Span end, SpelledPitch? pitch)
    {
        foreach (var earlier in _latest)
        {
            if (earlier.Line == line && earlier.End == onset && earlier.Pitch == pitch)
            {
                earlier.End = end;
                earlier.IsHeldOn = true;
                return true;
            }
        }

        return false;
    }

    private void Slur(ScoredNote note)
    {
        foreach (var earlier in _latest)
        {
            if (earlier.Line == note.Line && earlier.End == note.Onset)
            {
                // One slur over all notes of a bow.
                earlier.StartsSlur |= !earlier.EndsSlur || earlier.IsHeldOn;
                earlier.EndsSlur &= earlier.IsHeldOn;
                note.EndsSlur = true;
                return;
            }
        }
    }

    // The run whose tune a note plays: the bar's own, or the next one for a pickup.
    private SectionRun? RunOf(TuneOrigin? origin, ScoreMeasure measure, Bar bar)
    {
        if (origin is null)
        {
            return null;
        }

        var run = bar.Index < 0 ? _plan.BarAt(0).Run : measure.Place?.Run ?? _plan.BarAt(bar.Index).Run;
        return run.Section.Name == origin.Section && run.Verse == origin.Playing ? run : _plan.RunAfter(run);
    }

    private TuneSource SourceOf(Tune tune, int line)
    {
        if (!_sources.TryGetValue((tune, line), out var source))
        {
            _sources.Add((tune, line), source = TuneSource.Of(tune, line));
        }

        return source;
    }

    private static Lyric? LyricOf(SungSyllable? sung) => sung switch
    {
        null => null,
        { Note: 1, Syllable: var syllable } => syllable.Written("1") with { Late = null, Stress = Stress.Unknown },
        { Note: var note, Syllable: var syllable } => new Lyric { Number = "1", Extender = note == syllable.Notes ? Extender.Stop : Extender.Continue },
    };

    private void TakeDynamics(Bar bar, ScoreMeasure measure)
    {
        var place = measure.Place;
        if (place?.Run.Section.Tune is not { } tune)
        {
            return;
        }

        foreach (var line in TunePlayers.LinesOf(place.Run.Section, _plan.Chart.Parts, _part))
        {
            if (tune.Voice(line) is not { } voice)
            {
                continue;
            }

            var start = place.Start - place.Run.Start;
            foreach (var dynamic in voice.Dynamics)
            {
                if (dynamic.Onset > start + bar.Length)
                {
                    break;
                }

                if (dynamic.Onset >= start && (dynamic.Onset < start + bar.Length || (place.IsLastOfRun && dynamic.Onset == start + bar.Length)))
                {
                    _marks.Place(measure.Index, new PlacedMark(dynamic.Onset - start, dynamic.Mark));
                }
            }
        }
    }

    /// <summary>Writes the next measure.</summary>
    /// <param name="measure">The measure.</param>
    public void Finish(ScoreMeasure measure)
    {
        var chords = Starting(measure);
        var voices = Voices(measure, chords);
        _marks.Begin(measure, chords);
        var rhythm = RhythmOf(measure);
        rhythm.Fit(Edges(measure, voices));
        foreach (var accidentals in _accidentals)
        {
            accidentals.Begin(FifthsIn(measure.Key));
        }

        var written = new List<WrittenVoice>(voices.Count);
        foreach (var voice in voices)
        {
            written.Add(Write(measure, rhythm, voice));
        }

        AddAccidentals(written);
        var made = new List<VoiceMeasure>(voices.Count + 1);
        for (var staff = 0; staff < _clefs.Length; staff++)
        {
            var name = 1 + (staff * LinesOfAStaff);
            var number = _clefs.Length > 1 ? staff + 1 : (int?)null;
            foreach (var voice in written.Where(voice => voice.Voice.Staff == staff))
            {
                var isFirst = name == 1 + (staff * LinesOfAStaff);
                made.Add(new VoiceMeasure(_cache.Name(name++), [.. voice.Events(_cache, number, isFirst)]));
            }

            if (name == 1 + (staff * LinesOfAStaff))
            {
                made.Add(_cache.WholeRest(name, measure.Length, number));
            }
        }

        Measures.Add(new PartMeasure
        {
            Voices = [.. made],
            Marks = _marks.Marks(measure),
            Clefs = measure.Index > 0 ? [] : [.. _clefs.Select((clef, i) => new PlacedClef(Span.Zero, clef) { Staff = _clefs.Length > 1 ? i + 1 : null })],
            Transpositions = measure.Index > 0 || _toWritten == Interval.Unison ? [] : [TranspositionOf(_toWritten)],
        });
        _held = [.. _held.Concat(chords).Where(chord => chord.End > measure.End)];
        _waiting.Remove(measure.Index);
    }

    private MeasureRhythm RhythmOf(ScoreMeasure measure)
    {
        var key = (measure.Meter, measure.Length, measure.Offset);
        if (!_rhythms.TryGetValue(key, out var rhythm))
        {
            _rhythms.Add(key, rhythm = new MeasureRhythm(measure.Meter, measure.Length, measure.Offset));
        }

        return rhythm;
    }

    /// <summary>Ends what is still open in the last measure, before it is finished.</summary>
    public void End(ScoreMeasure last) => _marks.End(last);

    private static Transposition TranspositionOf(Interval toWritten)
    {
        var sounding = -toWritten;
        var octaves = sounding.Steps / 7;
        return new Transposition(Span.Zero, sounding.Semitones - (12 * octaves))
        {
            Diatonic = sounding.Steps - (7 * octaves),
            Octaves = octaves == 0 ? null : octaves,
        };
    }

    // The chords that begin in the measure, by place, then by line.
    private List<ScoredChord> Starting(ScoreMeasure measure)
    {
        if (!_waiting.TryGetValue(measure.Index, out var notes))
        {
            return [];
        }

        notes.Sort((a, b) => a.Onset.CompareTo(b.Onset) is var place && place != 0 ? place
            : a.Line != b.Line ? a.Line.CompareTo(b.Line)
            : b.End.CompareTo(a.End) is var end && end != 0 ? end
            : a.Played.Key.CompareTo(b.Played.Key));
        var chords = new List<ScoredChord>();
        foreach (var note in notes)
        {
            if (chords.Count > 0 && chords[^1].First is var first && first.Onset == note.Onset && first.Line == note.Line && first.End == note.End)
            {
                chords[^1].Notes.Add(note);
            }
            else if (note.End > note.Onset)
            {
                chords.Add(new ScoredChord([note]));
            }
        }

        return chords;
    }

    // Each line has its voice; notes that overlap in a line go into the next free one. Voices that move together become chords of one voice.
    private List<VoiceDraft> Voices(ScoreMeasure measure, List<ScoredChord> starting)
    {
        var slots = new List<VoiceDraft>();
        foreach (var chord in _held)
        {
            SlotFor(slots, chord, measure.Start).Add(chord);
        }

        foreach (var chord in starting)
        {
            SlotFor(slots, chord, chord.Onset).Add(chord);
        }

        // The lines of a tune in their order, other voices from the highest down.
        slots.Sort((a, b) => a.Staff != b.Staff ? a.Staff.CompareTo(b.Staff)
            : _player.Role != Role.Tune && b.Height.CompareTo(a.Height) is var height && height != 0 ? height
            : a.Line.CompareTo(b.Line));
        for (var i = 0; i < slots.Count; i++)
        {
            for (var j = slots.Count - 1; j > i; j--)
            {
                if (slots[j].Staff == slots[i].Staff && slots[i].MovesWith(slots[j]))
                {
                    slots[i].Merge(slots[j]);
                    slots.RemoveAt(j);
                }
            }
        }

        return slots;
    }

    private static VoiceDraft SlotFor(List<VoiceDraft> slots, ScoredChord chord, Span from)
    {
        var staff = chord.First.Line / LinesOfAStaff;
        for (var line = chord.First.Line; ; line++)
        {
            VoiceDraft? slot = null;
            foreach (var one in slots)
            {
                slot = one.Line == line && one.Staff == staff ? one : slot;
            }

            if (slot is null)
            {
                slots.Add(slot = new VoiceDraft(line, staff));
                return slot;
            }

            if (slot.End <= from)
            {
                return slot;
            }
        }
    }

    private List<Span> Edges(ScoreMeasure measure, List<VoiceDraft> voices)
    {
        var edges = new List<Span> { measure.Length };
        foreach (var voice in voices)
        {
            foreach (var item in voice.Items)
            {
                edges.Add(Span.Max(Span.Zero, item.Onset - measure.Start));
                edges.Add(Span.Min(measure.Length, item.End - measure.Start));
                foreach (var tuplet in Tuplets(item.First, measure))
                {
                    edges.Add(tuplet.From - measure.Start + item.First.SectionStart);
                    edges.Add(tuplet.To - measure.Start + item.First.SectionStart);
                }
            }
        }

        return edges;
    }

    // The tune's tuplets inside the measure.
    private static IEnumerable<TuneTuplet> Tuplets(ScoredNote note, ScoreMeasure measure)
    {
        if (note.Source is not { Tuplets.Count: > 0 } source)
        {
            yield break;
        }

        var (from, to) = (measure.Start - note.SectionStart, measure.End - note.SectionStart);
        for (var i = source.FirstFrom(from); i < source.Tuplets.Count && source.Tuplets[i].From < to; i++)
        {
            if (source.Tuplets[i].To <= to)
            {
                yield return source.Tuplets[i];
            }
        }
    }

    private WrittenVoice Write(ScoreMeasure measure, MeasureRhythm rhythm, VoiceDraft voice)
    {
        var stretches = new List<Stretch>((2 * voice.Items.Count) + 1);
        var at = 0L;
        for (var i = 0; i < voice.Items.Count; i++)
        {
            var item = voice.Items[i];
            var from = rhythm.Ticks(Span.Max(Span.Zero, item.Onset - measure.Start));
            var to = rhythm.Ticks(Span.Min(measure.Length, item.End - measure.Start));
            if (from > at)
            {
                stretches.Add(new Stretch(at, from, Stretch.Rest));
            }

            stretches.Add(new Stretch(from, to, i));
            at = to;
        }

        if (at < rhythm.End)
        {
            stretches.Add(new Stretch(at, rhythm.End, Stretch.Rest));
        }

        var given = GivenTuplets(measure, rhythm, voice);
        var pieces = rhythm.Write(stretches, given);
        if (IsUnpitched)
        {
            // A click is not tied: what follows its first value is a rest.
            for (var i = pieces.Count - 1; i > 0; i--)
            {
                pieces[i] = pieces[i].Item == pieces[i - 1].Item ? pieces[i] with { Item = Stretch.Rest } : pieces[i];
            }

            for (var i = 0; i < pieces.Count; i++)
            {
                var piece = pieces[i];
                pieces[i] = !piece.IsRest && voice.Items[piece.Item].Onset < measure.Start ? piece with { Item = Stretch.Rest } : piece;
            }
        }

        return new WrittenVoice(measure, voice, rhythm, pieces, BeamWriter.Of(rhythm, pieces), _marks, ref _tuplets);
    }

    private static List<TupletRegion> GivenTuplets(ScoreMeasure measure, MeasureRhythm rhythm, VoiceDraft voice)
    {
        var given = new List<TupletRegion>();
        if (rhythm.IsAllTuplets)
        {
            return given;
        }

        var known = new Dictionary<(TuneSource Source, Span Start, int Index), int>();
        foreach (var item in voice.Items)
        {
            var (source, start) = (item.First.Source, item.First.SectionStart);
            if (source is not { Tuplets.Count: > 0 })
            {
                continue;
            }

            for (var i = source.FirstFrom(measure.Start - start); i < source.Tuplets.Count && source.Tuplets[i].From + start < measure.End; i++)
            {
                var tuplet = source.Tuplets[i];
                var (from, to) = (tuplet.From + start - measure.Start, tuplet.To + start - measure.Start);
                if (from >= Span.Zero && to <= measure.Length && !known.ContainsKey((source, start, i)))
                {
                    known.Add((source, start, i), given.Count);
                    var around = tuplet.Around >= 0 && known.TryGetValue((source, start, tuplet.Around), out var outer) ? outer : -1;
                    given.Add(new TupletRegion(rhythm.Ticks(from), rhythm.Ticks(to), tuplet.Tuplet.Actual, tuplet.Tuplet.Normal, around));
                }
            }
        }

        return given;
    }

    // In the order in which a reader meets the notes of each staff.
    private void AddAccidentals(List<WrittenVoice> voices)
    {
        if (IsUnpitched)
        {
            return;
        }

        for (var staff = 0; staff < _clefs.Length; staff++)
        {
            var accidentals = _accidentals[staff];
            var heads = new List<(long At, int Voice, int Piece)>();
            for (var v = 0; v < voices.Count; v++)
            {
                for (var p = 0; voices[v].Voice.Staff == staff && p < voices[v].Pieces.Count; p++)
                {
                    if (!voices[v].Pieces[p].IsRest)
                    {
                        heads.Add((voices[v].Pieces[p].From, v, p));
                    }
                }
            }

            if (voices.Count > 1)
            {
                heads.Sort();
            }

            foreach (var (_, v, p) in heads)
            {
                voices[v].AddAccidentals(p, accidentals, Moved(voices[v].Measure.Key).ToWritten);
            }
        }
    }
}
