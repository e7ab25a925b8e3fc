using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Music.Performance;

namespace GrooveLab.Audio.Conducting;

/// <summary>Plays a logged performance again, offline: whatever size the pieces are read in, the samples are those of the performance.</summary>
public static class LogReplay
{
    private const int PieceFrames = 4096;

    /// <summary>Plays it.</summary>
    /// <param name="log">The log.</param>
    /// <param name="state">The state it began with.</param>
    /// <param name="synth">A synthesizer like the one that played.</param>
    /// <param name="options">The engine's set-up, as it was.</param>
    /// <param name="frames">How many frames.</param>
    /// <param name="hear">Is given what was played, piece by piece: interleaved stereo.</param>
    /// <exception cref="ChangeRefusedException">A change of the log cannot be made: the state is another one.</exception>
    public static void Play(
        PerformanceLog log, PerformanceState state, ISoundFontSynth synth, EngineOptions options, long frames, Action<ReadOnlySpan<float>> hear)
    {
        var history = new PerformanceHistory(state);
        var player = new OfflinePlayer(history.Route, synth, options, limited: false);
        var routes = new Dictionary<int, PerformanceRoute> { [0] = history.Route };
        var asked = 0;
        var piece = new float[2 * PieceFrames];
        long at = 0;
        foreach (var record in log.Records)
        {
            switch (record)
            {
                case AskedRecord ask:
                    history.Do(ask.Words, ask.Place);
                    routes[++asked] = history.Route;
                    break;
                case ObeyedRecord obeyed:
                    ReadTo(obeyed.Frame);
                    player.Engine.Post(EngineCommand.Of(obeyed.Setting));
                    break;
                case TakenRecord taken:
                    ReadTo(taken.Frame);
                    player.Bars.GoAt(routes[taken.Asked] with { From = taken.From }, taken.Ordinal);
                    foreach (var old in routes.Keys.Where(number => number < taken.Asked).ToList())
                    {
                        routes.Remove(old);
                    }

                    break;
            }
        }

        ReadTo(frames);

        void ReadTo(long frame)
        {
            while (at < Math.Min(frame, frames))
            {
                var count = (int)Math.Min(PieceFrames, Math.Min(frame, frames) - at);
                var read = player.Read(piece.AsSpan(0, 2 * count));
                if (read == 0)
                {
                    return;
                }

                hear(piece.AsSpan(0, read));
                at += read / 2;
                while (player.Engine.TryTakeReport(out _))
                {
                    // Nobody else takes them here, and the ring must not fill.
                }
            }
        }
    }
}
