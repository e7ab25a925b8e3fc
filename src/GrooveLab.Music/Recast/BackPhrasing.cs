using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Recast;

/// <summary>
/// Lets words of the melody lay back: the consonant marks the beat, and the vowel follows. Plain singing has the consonant before the beat and the vowel on it
/// (Sundberg &amp; Bauer-Huppmann 2007, Journal of Voice 21: 285-292).
/// </summary>
/// <remarks>
/// <para>The delay is a quarter of a unit (light) or half a unit (strong). Where that is more than 250 ms at the slowest tempo of the place, it is the most sixteenths of a unit
/// that are not. All numbers here are common practice, no source.</para>
/// <para>The words: the notes on group starts are counted off in sixes (light) or threes (strong), in each verse of each section and ending; in each full set one word at most is
/// late. So at least two strong beats of three are struck plainly. Neighbouring strong beats are not both late, the first one never is, nor is the first bar-group start on
/// which a note begins, nor are two such starts in succession. A word can be late if it begins on that note, is not known as unstressed, and if the note is at least
/// twice as long as the delay and has no grace notes, fermata, breath after it or mark that shortens it. Of several words that can, the one is taken whose consonant
/// can be held; then the one on a note where most verses have such a consonant, and where most can be late, so that verses agree; then a stressed one; then the first.</para>
/// <para>A consonant that can be held (m, n, l, v, z, f, s, sh) sounds on the beat until the vowel. A syllable with another consonant, a vowel or a breath is moved, and approached
/// with a glide if that is so in all verses that begin a syllable there: from the note before, if the syllable begins with a vowel and the notes adjoin, otherwise from
/// below. Delays that the song had before stay, and count.</para>
/// </remarks>
public static class BackPhrasing
{
    /// <summary>The share of the strong beats that are struck plainly, at least.</summary>
    public static readonly Rational LeastPlain = new(65, 100);

    private const int PartsOfUnit = 16;
    private const double Breath = 0.3;
    private static readonly Rational LongestSeconds = new(1, 4);
    private static readonly Span UsualGrid = Span.Of(1, 8);

    /// <summary>The part of a unit by which words lay back, where it is at most 250 ms.</summary>
    public static Rational PartOfUnit(Phrasing phrasing) => phrasing switch
    {
        Phrasing.Light => new Rational(1, 4),
        Phrasing.Strong => new Rational(1, 2),
        _ => Rational.Zero,
    };

    /// <summary>The song with the words that lay back. The parts that play the tune lose their own laying back.</summary>
    /// <param name="chart">The song.</param>
    /// <param name="phrasing">How it is sung. Plain changes nothing.</param>
    /// <param name="writing">How the delays are written. A note is written later only if all verses begin a syllable on it with the same delay; elsewhere, and where the
    /// delay rounds to nothing, it is a mark. The note before lasts until the note that is written later, or a rest does where a held consonant sounds.</param>
    /// <param name="grid">The longest distance of places, whose half is rounded to; null for eighths. Where units are shorter, they count.</param>
    /// <param name="stresses">The stress of each note's syllable in a verse; null for what its marks say.</param>
    /// <exception cref="ChartProblemException">The song cannot be played.</exception>
    public static PhrasedSong Of(
        Chart chart, Phrasing phrasing, DelayWriting writing = DelayWriting.Plain, Span? grid = null, Func<IReadOnlyList<Syllable?>, IReadOnlyList<SyllableStress>>? stresses = null)
    {
        var played = new PlayedBars(chart);
        var late = new List<LateSyllable>();
        var (strong, lateStrong) = (0, 0);
        var sections = chart.Sections.Select((section, i) => section with
        {
            Tune = Phrased(i, 0, section.Tune, section.Bars),
            Endings = [.. section.Endings.Select((ending, number) => ending with { Tune = Phrased(i, number + 1, ending.Tune, ending.Bars) })],
        }).ToList();
        return new PhrasedSong(phrasing == Phrasing.Plain ? chart : chart with { Sections = sections, Parts = [.. chart.Parts.Select(InTime)] }, late, strong, lateStrong);

        Tune? Phrased(int section, int ending, Tune? tune, IReadOnlyList<ChartBar> bars)
        {
            if (tune is null || tune.Verses.Count == 0)
            {
                return tune;
            }

            var melody = new Melody(tune, bars, bar => played.Of(section, ending, bar), chart.Swing);
            if (phrasing != Phrasing.Plain)
            {
                melody.Choose(PartOfUnit(phrasing), phrasing == Phrasing.Light ? 6 : 3, stresses ?? SungStresses.Marked, played.LongestPickup);
                melody.Write(writing, grid ?? UsualGrid);
            }

            late.AddRange(melody.Late(section, ending));
            strong += melody.StrongBeats;
            lateStrong += melody.LateStrongBeats;
            return phrasing == Phrasing.Plain ? tune : melody.Written();
        }
    }

    private static Part InTime(Part part) =>
        part.Settings is TuneSettings { LaidBack: not LayBack.None } settings ? part with { Settings = settings with { LaidBack = LayBack.None } } : part;

    // Every bar of each section and ending as the form plays it; sections and endings outside the form as they are alone, at the chart's first tempo.
    private sealed class PlayedBars(Chart chart)
    {
        private static readonly Span Quarter = Span.Of(1, 4);
        private Dictionary<(int Section, int Ending, int Bar), List<BarPlace>>? _places;
        private TempoMark _first;

        public Span LongestPickup { get; } = chart.Sections.Select(section => section.Tune?.PickupLength ?? Span.Zero).Aggregate(Span.Max);

        public IReadOnlyList<BarPlace> Of(int section, int ending, int bar)
        {
            if (_places is null)
            {
                _places = [];
                var plan = new FormPlan(chart);
                _first = new TempoMark(TempoLevel.Note, Quarter, plan.BarAt(0).SteadyTempo.PerMinute(Quarter));
                Add(plan, null);
            }

            if (!_places.ContainsKey((section, ending, bar)))
            {
                var alone = chart.Sections[section] with { Join = null, Tempo = null, Ramps = [] };
                Add(new FormPlan(chart with { Tempo = _first, Sections = [alone], Form = [new FormStep(0, 1) { Ending = ending == 0 ? null : ending }], Tag = [] }), section);
            }

            return _places[(section, ending, bar)];
        }

        private void Add(FormPlan plan, int? section)
        {
            foreach (var run in plan.Runs)
            {
                for (var i = 0; i < run.Bars; i++)
                {
                    var place = plan.BarAt(run.FirstBar + i);
                    var key = (section ?? run.SectionIndex, place.Ending, place.Ending == 0 ? i : i - run.EndingAt);
                    if (!_places!.TryGetValue(key, out var known))
                    {
                        _places.Add(key, known = []);
                    }

                    known.Add(place);
                }
            }
        }
    }

    private sealed class Melody
    {
        private readonly Tune _tune;
        private readonly IReadOnlyList<ChartBar> _bars;
        private readonly Func<int, IReadOnlyList<BarPlace>> _played;
        private readonly Rational _swing;
        private readonly List<Span> _starts = [];
        private readonly Span _end;

        // The notes on group starts, in order.
        private readonly List<StrongNote> _strong = [];

        // By verse and note.
        private readonly Dictionary<(int Verse, int Note), Span> _own = [];
        private readonly Dictionary<(int Verse, int Note), Span> _delays = [];
        private readonly Dictionary<int, Span> _moved = [];
        private readonly HashSet<int> _glided = [];
        private readonly List<(int Note, Mark Mark)> _marks = [];

        public Melody(Tune tune, IReadOnlyList<ChartBar> bars, Func<int, IReadOnlyList<BarPlace>> played, Rational swing)
        {
            _tune = tune;
            _bars = bars;
            _played = played;
            _swing = swing;
            foreach (var bar in bars)
            {
                _starts.Add(_end);
                _end += bar.Meter.Length;
            }

            var at = 0;
            for (var i = 0; i < tune.Notes.Count; i++)
            {
                var onset = tune.Notes[i].Onset;
                while (at + 1 < bars.Count && onset >= _starts[at + 1])
                {
                    at++;
                }

                var meter = bars[at].Meter;
                var units = (onset - _starts[at]) / meter.Unit;
                if (onset >= Span.Zero && onset < _end && units.IsInteger && meter.GroupStartUnits.Contains((int)units.Numerator))
                {
                    _strong.Add(new StrongNote(i, at, onset - _starts[at]));
                }

                for (var verse = 0; verse < tune.Verses.Count; verse++)
                {
                    var own = tune.Verses[verse][i]?.Late ?? tune.Notes[i].Late;
                    if (own > Span.Zero)
                    {
                        _own.Add((verse, i), own);
                    }
                }
            }
        }

        public int StrongBeats => _strong.Count * _tune.Verses.Count;

        public int LateStrongBeats => Enumerable.Range(0, _tune.Verses.Count).Sum(verse => _strong.Count(note => IsLate(verse, note.Note)));

        /// <summary>Chooses the words.</summary>
        public void Choose(Rational part, int set, Func<IReadOnlyList<Syllable?>, IReadOnlyList<SyllableStress>> stresses, Span longestPickup)
        {
            var opens = _strong.ConvertAll(note => note.At == Span.Zero && _played(note.Bar)[0].GroupPlace.IsFirst);
            var delays = _strong.ConvertAll(note => DelayOf(note, part, longestPickup));
            var words = _tune.Verses.Select(verse =>
            {
                var known = stresses(verse);
                return _strong.ConvertAll(note => verse[note.Note] is { IsHeldOver: false, Place: SyllablePlace.Single or SyllablePlace.Begin, Late: null, Stress: not Stress.Weak } syllable
                    && known[note.Note] != SyllableStress.Unstressed ? (Syllable: syllable, IsStressed: known[note.Note] == SyllableStress.Stressed) : default);
            }).ToList();
            for (var verse = 0; verse < words.Count; verse++)
            {
                for (var first = 0; first + set <= _strong.Count; first += set)
                {
                    var inSet = Enumerable.Range(first, set).ToList();
                    if (inSet.Exists(i => IsLate(verse, _strong[i].Note)))
                    {
                        // A word of the song's own is late already.
                        continue;
                    }

                    var chosen = inSet.Where(Can)
                        .OrderByDescending(i => IsHeld(words[verse][i].Syllable))
                        .ThenByDescending(i => words.Count(other => IsHeld(other[i].Syllable)))
                        .ThenByDescending(i => words.Count(other => other[i].Syllable is not null))
                        .ThenByDescending(i => words[verse][i].IsStressed)
                        .ThenBy(i => i)
                        .Select(i => (int?)i)
                        .FirstOrDefault();
                    if (chosen is { } one)
                    {
                        _delays.Add((verse, _strong[one].Note), delays[one]);
                    }
                }

                bool Can(int i) => i > 0 && delays[i] > Span.Zero && words[verse][i].Syllable is not null
                    && !IsLate(verse, _strong[i - 1].Note)
                    && (i + 1 == _strong.Count || !IsLate(verse, _strong[i + 1].Note))
                    && (!opens[i] || (LastOpening(i - 1) is { } before && !IsLate(verse, _strong[before].Note)
                        && (NextOpening(i + 1) is not { } next || !IsLate(verse, _strong[next].Note))));
            }

            Glide();

            int? LastOpening(int from)
            {
                var i = from;
                while (i >= 0 && !opens[i])
                {
                    i--;
                }

                return i < 0 ? null : i;
            }

            int? NextOpening(int from)
            {
                var i = from;
                while (i < opens.Count && !opens[i])
                {
                    i++;
                }

                return i == opens.Count ? null : i;
            }
        }

        /// <summary>Decides which notes are written later.</summary>
        public void Write(DelayWriting writing, Span grid)
        {
            if (writing == DelayWriting.Plain)
            {
                return;
            }

            foreach (var note in _strong)
            {
                var inVerses = Enumerable.Range(0, _tune.Verses.Count).Select(verse => _delays.TryGetValue((verse, note.Note), out var delay) ? delay : (Span?)null).Distinct().ToList();
                if (inVerses is not [{ } agreed])
                {
                    continue;
                }

                var moved = writing == DelayWriting.Literal ? agreed : Rounded(note, agreed, grid);
                if (moved > Span.Zero)
                {
                    _moved.Add(note.Note, moved);
                    for (var verse = 0; verse < _tune.Verses.Count; verse++)
                    {
                        _delays[(verse, note.Note)] = moved;
                    }
                }
            }
        }

        /// <summary>The late syllables.</summary>
        public IEnumerable<LateSyllable> Late(int section, int ending)
        {
            foreach (var ((verse, note), wanted) in _own.Concat(_delays).OrderBy(one => one.Key.Verse).ThenBy(one => one.Key.Note))
            {
                if (_tune.Verses[verse][note] is not { IsHeldOver: false } syllable)
                {
                    continue;
                }

                var isOwn = _own.ContainsKey((verse, note));
                var (bar, at) = PlaceOf(_tune.Notes[note].Onset);
                var delay = isOwn ? _played(bar).Aggregate(wanted, (least, place) => Span.Min(least, LayingBack.Longest(place.TempoAt(at)))) : wanted;
                yield return new LateSyllable(section, ending, verse, note, delay)
                {
                    Seconds = _played(bar).Max(place => Seconds(place, at, delay)).ToDouble(),
                    IsOwn = isOwn,
                    IsHeld = IsHeld(syllable),
                    IsGlided = !isOwn && _glided.Contains(note),
                    IsMoved = !isOwn && _moved.ContainsKey(note),
                };
            }
        }

        /// <summary>The tune as written.</summary>
        public Tune Written()
        {
            var marked = _delays.Where(one => !_moved.ContainsKey(one.Key.Note)).ToDictionary(one => one.Key, one => one.Value);
            var tune = _tune.LaidBack(marked, _marks.ToLookup(mark => mark.Note, mark => mark.Mark));
            if (_moved.Count == 0)
            {
                return tune;
            }

            var rhythms = Enumerable.Range(0, tune.Lines.Count + 1).Select(line => (IReadOnlyList<(Span Onset, Span Length)>)
                [.. tune.Voice(line)!.Notes.Select((note, i) => (note.Onset, Length: note.Length + OpenTie(tune, line, i)))]).ToList();
            rhythms[0] = [.. rhythms[0].Select((note, i) =>
            {
                var own = _moved.GetValueOrDefault(i);
                var next = IsHeldUntil(i + 1) ? _moved[i + 1] : Span.Zero;
                return (note.Onset + own, note.Length - own + next);
            })];
            return tune.InRhythms(rhythms, _bars);
        }

        private static bool IsHeld(Syllable? syllable) => Consonants.Of(syllable?.Text) == Consonant.Held;

        private bool IsLate(int verse, int note) => _own.ContainsKey((verse, note)) || _delays.ContainsKey((verse, note));

        private (int Bar, Span At) PlaceOf(Span onset)
        {
            var bar = Math.Max(0, _starts.FindLastIndex(start => start <= onset));
            return (bar, Span.Max(Span.Zero, onset - _starts[bar]));
        }

        private bool Adjoins(int note) => note > 0 && _tune.Notes[note - 1] is var before && before.Onset + before.Length == _tune.Notes[note].Onset;

        // The note before lasts until a note that is written later, except where a consonant sounds in all verses or the singer breathes.
        private bool IsHeldUntil(int note) => _moved.ContainsKey(note) && Adjoins(note)
            && !_tune.Notes[note - 1].Has(MarkKind.BreathMark) && !_tune.Notes[note - 1].Has(MarkKind.Caesura)
            && _tune.Verses.Any(verse => !IsHeld(verse[note]));

        // A note that is tied into the ending is written as if it lasted longer.
        private Span OpenTie(Tune tune, int line, int note)
        {
            var notes = tune.Voice(line)!.Notes;
            return note == notes.Count - 1 && notes[note].Onset + notes[note].Length == _end
                && TuneVoice.Sounding(tune.Written, line)[^1].Sources[^1] is var last
                && tune.Written.Parts[line].Measures[last.Measure].Voices[last.Voice].Events[last.Event] is NotesEvent { Notes: [.., { TiedTo: not null }] }
                ? _bars[^1].Meter.Unit : Span.Zero;
        }

        // The delay of a note on a group start; zero if it cannot be late.
        private Span DelayOf(StrongNote strong, Rational part, Span longestPickup)
        {
            var note = _tune.Notes[strong.Note];
            var places = _played(strong.Bar);
            if (note.Late > Span.Zero || note.Graces.Count > 0 || IsShortOrEnds(note) || places.Any(place => place.Stop == BandStop.Hold))
            {
                return Span.Zero;
            }

            var unit = _bars[strong.Bar].Meter.Unit;
            var delay = unit * part;
            while (delay > Span.Zero && !Fits(strong, delay))
            {
                delay -= unit / PartsOfUnit;
            }

            // A pickup into the next section cuts the notes before it.
            return note.Length < delay * 2 || note.Onset + (delay * 2) > _end - longestPickup || TakesBreath(strong, delay) ? Span.Zero : delay;
        }

        private bool Fits(StrongNote strong, Span delay) => _played(strong.Bar).All(place =>
            delay <= LayingBack.Longest(place.TempoAt(strong.At)) && Seconds(place, strong.At, delay) <= LongestSeconds);

        private Rational Seconds(BarPlace place, Span at, Span delay)
        {
            var swing = Swing.Of(_swing, place.Meter, place.Tempo);
            return place.TempoAt(at).Seconds(swing.Played(at + delay) - swing.Played(at));
        }

        private static bool IsShortOrEnds(TuneNote note) => note.Marks.Any(mark => mark.Kind is MarkKind.Staccato or MarkKind.Staccatissimo or MarkKind.Spiccato
            or MarkKind.DetachedLegato or MarkKind.StrongAccent or MarkKind.BreathMark or MarkKind.Caesura or MarkKind.Fermata);

        // A late note also ends late: the breath after it must not get too short.
        private bool TakesBreath(StrongNote strong, Span delay)
        {
            var note = _tune.Notes[strong.Note];
            if (strong.Note + 1 == _tune.Notes.Count)
            {
                return false;
            }

            var rest = _tune.Notes[strong.Note + 1].Onset - note.Onset - note.Length;
            return rest > Span.Zero && _played(strong.Bar).Any(place =>
            {
                var whole = place.TempoAt(strong.At).Seconds(Span.Of(1, 1)).ToDouble();
                return rest.Wholes.ToDouble() * whole >= Breath && (rest.Wholes - delay.Wholes).ToDouble() * whole < Breath;
            });
        }

        // To the nearest half step, the smaller of two; less where it would be too late.
        private Span Rounded(StrongNote strong, Span delay, Span grid)
        {
            var half = _bars[strong.Bar].Meter.Unit;
            while (half > grid)
            {
                half /= 2;
            }

            half /= 2;
            var steps = ((delay / half) - new Rational(1, 2)).Ceiling();
            while (steps > 0 && (!Fits(strong, half * steps) || half * steps * 2 > _tune.Notes[strong.Note].Length))
            {
                steps--;
            }

            return half * steps;
        }

        private void Glide()
        {
            var open = 0;
            for (var i = 0; i < _tune.Notes.Count; i++)
            {
                var note = _tune.Notes[i];
                var wasOpen = open > 0;
                open += note.Marks.Count(mark => mark.Kind is MarkKind.Slide && mark.Edge == MarkEdge.Start) - note.Marks.Count(mark => mark.Kind is MarkKind.Slide && mark.Edge == MarkEdge.Stop);
                var begun = Enumerable.Range(0, _tune.Verses.Count).Where(verse => _tune.Verses[verse][i] is { IsHeldOver: false }).ToList();
                if (begun.Count == 0 || !begun.TrueForAll(verse => _delays.ContainsKey((verse, i)))
                    || begun.Exists(verse => IsHeld(_tune.Verses[verse][i])) || wasOpen
                    || note.Marks.Any(mark => mark.Kind is MarkKind.Slide or MarkKind.Glissando or MarkKind.Scoop or MarkKind.Plop))
                {
                    continue;
                }

                _glided.Add(i);
                var before = i > 0 ? _tune.Notes[i - 1] : null;
                if (Adjoins(i) && before!.Pitch != note.Pitch && begun.TrueForAll(verse => Consonants.Of(_tune.Verses[verse][i]!.Text) == Consonant.None)
                    && !before.Marks.Any(mark => mark.Kind is MarkKind.Slide or MarkKind.BreathMark or MarkKind.Caesura))
                {
                    _marks.Add((i - 1, new Mark(MarkKind.Slide) { Edge = MarkEdge.Start }));
                    _marks.Add((i, new Mark(MarkKind.Slide) { Edge = MarkEdge.Stop }));
                }
                else
                {
                    _marks.Add((i, new Mark(MarkKind.Scoop)));
                }
            }
        }

        private readonly record struct StrongNote(int Note, int Bar, Span At);
    }
}
