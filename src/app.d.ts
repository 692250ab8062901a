declare global {
  namespace App {
    interface Error {
      message: string;
      /** Looks the fault up in the log, where it is written whole. */
      id?: string;
    }
  }
}

export {};
