using System.Runtime.CompilerServices;
using GrooveLab.Audio.SoundFonts;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// The modulation envelope, from 0 to 1: convex attack, linear decay and release (SoundFont 2.04, 8.1.3, generators 25-30).
/// </summary>
internal struct ModulationEnvelope
{
    private const int Endless = int.MaxValue;

    private EnvelopeTimes _times;
    private float _sustain;
    private float _start;
    private float _perFrame;
    private int _elapsed;
    private int _length;

    public EnvelopeStage Stage { get; private set; }

    /// <summary>Starts at key-on.</summary>
    [MethodImpl(HotCode.Compiled)]
    public void Start(in EnvelopeTimes times, float sustain)
    {
        Configure(times, sustain);
        Enter(EnvelopeStage.Delay, times.Delay);
        SkipFinishedStages();
    }

    /// <summary>Sets new times; the current stage keeps its own.</summary>
    /// <param name="times">The stages.</param>
    /// <param name="sustain">Level of the sustain stage, 0-1.</param>
    public void Configure(in EnvelopeTimes times, float sustain)
    {
        _times = times;
        _sustain = sustain;
    }

    /// <summary>The value some frames ahead; after the end of this stage it keeps its last value.</summary>
    [MethodImpl(HotCode.Compiled)]
    public readonly float Value(int ahead)
    {
        var at = _length == Endless ? 0 : Math.Min(_elapsed + ahead, _length);
        return Stage switch
        {
            EnvelopeStage.Attack => ModulatorSource.Convex((float)at / _length),
            EnvelopeStage.Hold => 1,
            EnvelopeStage.Decay or EnvelopeStage.Sustain or EnvelopeStage.Release => _start - (_perFrame * at),
            _ => 0,
        };
    }

    [MethodImpl(HotCode.Compiled)]
    public void Advance(int frames)
    {
        while (_length != Endless && frames > 0)
        {
            // A stage may end inside the step; the rest of the step belongs to the next stage.
            var taken = Math.Min(frames, _length - _elapsed);
            _elapsed += taken;
            frames -= taken;
            SkipFinishedStages();
        }
    }

    /// <summary>Enters the release stage from the current value.</summary>
    [MethodImpl(HotCode.Compiled)]
    public void Release()
    {
        if (Stage is EnvelopeStage.Release or EnvelopeStage.Finished)
            return;
        Fall(EnvelopeStage.Release, Value(0), 0, _times.Release);
        SkipFinishedStages();
    }

    [MethodImpl(HotCode.Compiled)]
    private void SkipFinishedStages()
    {
        while (_length != Endless && _elapsed >= _length)
        {
            switch (Stage)
            {
                case EnvelopeStage.Delay:
                    Enter(EnvelopeStage.Attack, _times.Attack);
                    break;
                case EnvelopeStage.Attack:
                    Enter(EnvelopeStage.Hold, _times.Hold);
                    break;
                case EnvelopeStage.Hold:
                    Fall(EnvelopeStage.Decay, 1, _sustain, _times.Decay);
                    break;
                case EnvelopeStage.Decay:
                    Enter(EnvelopeStage.Sustain, Endless);
                    _start = _sustain;
                    _perFrame = 0;
                    break;
                default:
                    Enter(EnvelopeStage.Finished, Endless);
                    break;
            }
        }
    }

    private void Fall(EnvelopeStage stage, float from, float to, int framesForAll)
    {
        _start = from;
        _perFrame = 1f / Math.Max(1, framesForAll);
        Enter(stage, to >= from ? 0 : (int)MathF.Ceiling((from - to) / _perFrame));
    }

    private void Enter(EnvelopeStage stage, int length)
    {
        Stage = stage;
        _elapsed = 0;
        _length = length;
    }
}
