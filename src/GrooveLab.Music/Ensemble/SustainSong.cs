using GrooveLab.Music.Band;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>A stretch in which a held voice has one key, but for a suspension at its start and a passing note at its end.</summary>
internal sealed class SongNode
{
    /// <summary>Its start, from the run's first bar line.</summary>
    public required Span Onset { get; init; }

    /// <summary>Its end.</summary>
    public required Span End { get; init; }

    /// <summary>Its chord.</summary>
    public required ChordSymbol Chord { get; init; }

    /// <summary>True if the chord is not that of the node before.</summary>
    public required bool IsNewChord { get; init; }

    /// <summary>The bow in which it lies.</summary>
    public required int Bow { get; init; }

    /// <summary>The bar in which it starts.</summary>
    public required int Bar { get; init; }

    /// <summary>Where a suspension resolves; null where there is no room for one.</summary>
    public Span? Resolve { get; init; }

    /// <summary>Where a passing note starts; null where there is no room for one.</summary>
    public Span? Pass { get; init; }

    /// <summary>True where the voice moves rather than holds: in a rest of the tune, or in a fill.</summary>
    public bool Answers { get; init; }

    /// <summary>True where the voice rests.</summary>
    public bool Rests { get; init; }

    /// <summary>True where the bar is felt as one beat: dissonances are fewer.</summary>
    public bool Calm { get; init; }

    /// <summary>Half steps by which the voice is drawn up from its usual place.</summary>
    public int Up { get; init; }

    /// <summary>The keys of the tune in it.</summary>
    public required int[] Sung { get; init; }

    /// <summary>The keys of other parts in it.</summary>
    public required int[] Others { get; init; }

    /// <summary>The last key of the bass up to its start; null for none.</summary>
    public int? Bass { get; init; }

    /// <summary>Its chance.</summary>
    public required Chance Chance { get; init; }

    /// <summary>What sounds in it at the first playing, if it is to be the same; null where the voice is free.</summary>
    public IReadOnlyList<SongNote>? Fixed { get; set; }

    /// <summary>What sounds in it at the first playing, if it is to differ from that; null elsewhere.</summary>
    public IReadOnlyList<SongNote>? Unlike { get; set; }

    /// <summary>The keys of lower voices in it.</summary>
    public HashSet<int> Lower { get; } = [];
}

/// <summary>A key that a held voice sounds; null for a rest.</summary>
internal readonly record struct SongNote(Span Onset, Span End, int? Key, int Bow);

/// <summary>A pitch class that chords leave out while a suspension sounds: from the chord to its resolution.</summary>
internal readonly record struct Withheld(Span From, Span To, int PitchClass);

/// <summary>The song of one held voice: the path through its chords with the least cost. It keeps tones, moves by step, against the bass
/// rather than with it, delays falling steps as suspensions, and passes through the scale where it moves by a third.</summary>
/// <remarks>A dynamic programme over the nodes; the state is the key. Common practice, no source; so are all the costs.</remarks>
internal sealed class SustainSong
{
    /// <summary>Keys closer than this to the sounding tune clash with it.</summary>
    private const int Rub = 2;

    /// <summary>The cost of a key that rubs against the tune; of a rest of the lowest voice, and of a higher one. A key that another part
    /// holds is impossible.</summary>
    private const double Rubs = 2000, Silent = 2500, SilentAbove = 115;

    private const double Impossible = 1e9;

    /// <summary>Costs of moves: a kept tone under a new chord, a kept tone in an answer, a step, a third, a fourth, a tritone or fifth, a leap.</summary>
    private const double Kept = 0.9, KeptInAnswer = 3, Step = 0.2, Third = 3.2, Fourth = 6, Fifth = 8, Leap = 60;

    /// <summary>The cost of a move within one chord that does not answer, of half a step of distance from the voice's place, and of a move
    /// with the bass (a gain against it).</summary>
    private const double Restless = 2, Distance = 0.13, WithBass = 1.1;

    /// <summary>The gain of suspensions and passing notes: at least, and by chance more.</summary>
    private const double Suspension = -0.6, SuspensionByChance = 2.6, Passing = 2.6, PassingByChance = 2.2;

    /// <summary>How much less a dissonance gains where the bar is felt as one beat.</summary>
    private const double WhenCalm = 0.5;

    /// <summary>The cost of a suspension that resolves by a half step: chords must leave out its resolution.</summary>
    private const double Sharp = 0.4;

    /// <summary>How many times the distance from its place counts where a voice starts and ends, so that sections join without leaps.</summary>
    private const double AtEnds = 12;

    /// <summary>The cost of what is heard at the first playing where a bar is to differ, and of a dissonance that is not prepared or not
    /// led on.</summary>
    private const double Alike = 6, Unprepared = 40;

    private const double Luck = 1.3;

    /// <summary>The greatest distance, in half steps, of a key with which a voice starts from its place without an effect on its end.</summary>
    private const int Near = 4;

    /// <summary>The greatest move that is no leap, in half steps.</summary>
    private const int LargestMove = 7;

    private readonly IReadOnlyList<SongNode> _nodes;
    private readonly Key _key;
    private readonly Instrument? _bowed;
    private readonly int _lowest;
    private readonly int _highest;
    private readonly int _voice;
    private readonly State[][] _states;

    public SustainSong(IReadOnlyList<SongNode> nodes, Key key, Part player, int voice, int home)
    {
        _nodes = nodes;
        _key = key;
        _bowed = player.Instrument is { Technique: Technique.Bow, Strings.Count: > 0 } ? player.Instrument : null;
        _lowest = player.Lowest;
        _highest = player.Highest;
        _voice = voice;
        _states = new State[nodes.Count][];
        for (var i = 0; i < nodes.Count; i++)
        {
            _states[i] = States(nodes[i], i == 0 || i == nodes.Count - 1, i > 0 && i == nodes.Count - 1 && Entry() is { } entry && Math.Abs(entry - home) > Near ? entry : home);
            for (var j = 0; j < _states[i].Length; j++)
            {
                Reach(i, j);
            }
        }

        Trace();
    }

    /// <summary>The notes in order, each inside one node.</summary>
    public List<SongNote> Notes { get; } = [];

    /// <summary>True for two keys that may not sound together: equal, a half step apart, or too close so low.</summary>
    public static bool TooClose(int a, int b) =>
        a == b || Math.Abs(a - b) < 2 || (Math.Min(a, b) < Voicings.LowIntervalLimit && Math.Abs(a - b) < 5);

    // The key with which the voice starts at the least cost; null for none. Sections come again, and their neighbours often start alike.
    private int? Entry() => _states[0].MinBy(state => state.Cost).First - _nodes[0].Up;

    private State[] States(SongNode node, bool atEnd, int home)
    {
        if (node.Fixed is { Count: > 0 } known)
        {
            return [new State(known[0].Key, known[^1].Key, 0) { Heard = known.LastOrDefault(note => note.Key is not null).Key }];
        }

        var rest = new State(null, null, _voice == 0 ? Silent : SilentAbove);
        if (node.Rests || node.Chord.IsNoChord)
        {
            return [rest with { Cost = 0 }];
        }

        var states = new List<State>();
        for (var key = _lowest; key <= _highest; key++)
        {
            if (node.Chord.Tones.Contains(key) && Clash(node, key) is var clash && clash < Impossible)
            {
                var cost = clash + (Distance * (atEnd ? AtEnds : 1) * Math.Abs(key - Math.Min(home + node.Up, _highest - 2))) + (Luck * node.Chance.At(key).Unit)
                    + (node.Unlike is { Count: > 0 } first && first[0].Key == key ? Alike : 0);
                states.Add(new State(key, key, cost) { Heard = key });
            }
        }

        states.Add(rest);
        return [.. states];
    }

    private double Clash(SongNode node, int key)
    {
        var cost = 0.0;
        foreach (var sung in node.Sung)
        {
            if (sung == key)
            {
                return Impossible;
            }

            cost = Math.Abs(sung - key) <= Rub ? Rubs : cost;
        }

        foreach (var other in node.Others)
        {
            if (TooClose(key, other))
            {
                return Impossible;
            }
        }

        foreach (var below in node.Lower)
        {
            if (key <= below || TooClose(key, below) || (_bowed is not null && !StringVoicings.CanStopTogether(_bowed.Strings, below, key, _bowed.Stretch)))
            {
                return Impossible;
            }
        }

        return cost;
    }

    private void Reach(int i, int j)
    {
        ref var state = ref _states[i][j];
        if (i == 0)
        {
            return;
        }

        var (best, from, way) = (double.MaxValue, 0, default(Way));
        for (var k = 0; k < _states[i - 1].Length; k++)
        {
            var before = _states[i - 1][k];
            var (cost, how) = Move(_nodes[i - 1], _nodes[i], before, state);
            if (before.Cost + cost < best)
            {
                (best, from, way) = (before.Cost + cost, k, how);
            }
        }

        state = state with { Cost = state.Cost + best, From = from, Way = way, Heard = state.Heard ?? _states[i - 1][from].Heard };
    }

    private (double Cost, Way Way) Move(SongNode from, SongNode to, State before, State after)
    {
        if (before.Last is not { } key || after.First is not { } next || (from.Fixed is not null && to.Fixed is not null))
        {
            return (after.First is { } entry && before.Last is null && before.Heard is { } heard && Math.Abs(entry - heard) > LargestMove ? Leap : 0, default);
        }

        var by = next - key;
        var cost = by switch
        {
            0 => to.Answers ? KeptInAnswer : to.IsNewChord ? Kept : 0,
            _ => Math.Abs(by) switch { <= 2 => Step, <= 4 => Third, 5 => Fourth, <= LargestMove => Fifth, _ => Leap } + (to.IsNewChord || to.Answers ? 0 : Restless),
        };
        if (by != 0 && from.Bass is { } bass && to.Bass is { } moved && bass != moved)
        {
            cost += Math.Sign(moved - bass) == Math.Sign(by) ? WithBass : -WithBass;
        }

        // What was played before is led on, and what comes has been prepared.
        cost += from.Fixed is not null && !from.Chord.Tones.Contains(key) && Math.Abs(by) is 0 or > 2 ? Unprepared : 0;
        cost += to.Fixed is not null && !to.Chord.Tones.Contains(next) && by != 0 ? Unprepared : 0;

        var way = default(Way);
        if (to is { IsNewChord: true, Fixed: null, Resolve: not null } && by is -1 or -2 && Suspends(from, to, key))
        {
            var gain = Suspension + (SuspensionByChance * to.Chance.For("suspend").Unit) - (to.Calm ? WhenCalm : 0);
            if (gain > (by == -1 ? Sharp : 0))
            {
                (cost, way) = (cost - gain + (by == -1 ? Sharp : 0), new Way { Suspends = true });
            }
        }

        if (from is { Fixed: null, Pass: not null } && Math.Abs(by) is 3 or 4 && PassingBetween(from, key, next) is { } passing)
        {
            var gain = Passing + (PassingByChance * from.Chance.For("pass").Unit) - (from.Calm ? WhenCalm : 0);
            (cost, way) = (cost - gain, way with { Passing = passing });
        }

        return (cost, way);
    }

    private bool Suspends(SongNode from, SongNode to, int key) => from.Chord.Tones.Contains(key) && !to.Chord.Tones.Contains(key)
        && !(to.Bass is { } bass && (key - bass + 120) % 12 == 1) && Clash(to, key) < Rubs;

    private int? PassingBetween(SongNode node, int key, int next)
    {
        var direction = Math.Sign(next - key);
        for (var step = 1; step <= 2; step++)
        {
            var passing = key + (direction * step);
            if (Math.Abs(next - passing) <= 2 && _key.Contains(passing) && !node.Chord.Tones.Contains(passing) && Clash(node, passing) < Rubs)
            {
                return passing;
            }
        }

        return null;
    }

    private void Trace()
    {
        var at = 0;
        for (var j = 1; j < _states[^1].Length; j++)
        {
            at = _states[^1][j].Cost < _states[^1][at].Cost ? j : at;
        }

        var path = new State[_nodes.Count];
        for (var i = _nodes.Count - 1; i >= 0; i--)
        {
            path[i] = _states[i][at];
            at = path[i].From;
        }

        for (var i = 0; i < path.Length; i++)
        {
            AddNotes(_nodes[i], i > 0 ? path[i - 1] : default, path[i], i + 1 < path.Length ? path[i + 1].Way.Passing : null);
        }
    }

    private void AddNotes(SongNode node, State before, State state, int? passing)
    {
        if (node.Fixed is { } known)
        {
            Notes.AddRange(known);
            node.Lower.UnionWith(known.Where(note => note.Key is not null).Select(note => note.Key!.Value));
            return;
        }

        var from = node.Onset;
        var to = passing is null ? node.End : node.Pass!.Value;
        if (state.Way.Suspends)
        {
            Add(node, from, node.Resolve!.Value, before.Last);
            from = node.Resolve.Value;
        }

        Add(node, from, to, state.First);
        if (passing is not null)
        {
            Add(node, to, node.End, passing);
        }
    }

    private void Add(SongNode node, Span from, Span to, int? key)
    {
        Notes.Add(new SongNote(from, to, key, node.Bow));
        if (key is { } sounding)
        {
            node.Lower.Add(sounding);
        }
    }

    private readonly record struct State(int? First, int? Last, double Cost)
    {
        public int From { get; init; }

        /// <summary>The last key that the voice has sounded; null before the first.</summary>
        public int? Heard { get; init; }

        public Way Way { get; init; }
    }

    private readonly record struct Way
    {
        public bool Suspends { get; init; }

        public int? Passing { get; init; }
    }
}
